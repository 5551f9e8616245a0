"""`grainlog cards`, run as a person runs it."""

import json
import os

import pytest
from click.testing import CliRunner

from grainlog.cli.cards_command import cards_command
from grainlog.errors import WrongUse
from grainlog.sheets.errors import SheetError


def run(*words, **options):
    return CliRunner().invoke(cards_command, list(map(str, words)), **options)


def test_writes_both_papers_and_pictures(tmp_path):
    result = run(tmp_path)
    assert result.exit_code == 0
    assert "Print at 100 %" in result.output
    assert len(os.listdir(tmp_path)) == 13


def test_json_tells_what_was_written(tmp_path):
    result = run(tmp_path / "out", "--paper", "letter", "--cards", "0-1", "--png", "--json")
    told = json.loads(result.output)
    assert told["cards"] == [0, 1]
    assert told["files"] == ["cards-letter.pdf", "card-0.png", "card-1.png", "cards.json"]
    assert set(told["files"]) == set(os.listdir(told["folder"]))


def test_pdf_alone(tmp_path):
    assert run(tmp_path, "--paper", "a4", "--no-png").exit_code == 0
    assert os.listdir(tmp_path) == ["cards-a4.pdf"]


@pytest.mark.parametrize("words", [[], ["--paper", "a5"], ["--nonsense"]])
def test_wrong_use_is_a_sentence_and_exit_code_2(words, tmp_path):
    result = run(*([tmp_path, *words] if words else []))
    assert result.exit_code == 2
    assert "Error:" in result.output and "Traceback" not in result.output


def test_bad_numbers_and_bad_folder_raise_our_own_family_for_the_group_to_word(tmp_path):
    assert isinstance(run(tmp_path, "--cards", "11").exception, WrongUse)
    (tmp_path / "file").write_text("x")
    assert isinstance(run(tmp_path / "file").exception, SheetError)
