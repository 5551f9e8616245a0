"""`grainlog serve`, started and stopped as a person does."""

import re
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request

import pytest

from grainlog import cli
from grainlog.yard import Yard


@pytest.fixture
def yard(tmp_path):
    Yard.start(tmp_path / "yard").close()
    return tmp_path / "yard"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def test_the_page_answers_until_it_is_interrupted(yard):
    port = free_port()
    command = [sys.executable, "-u", "-m", "grainlog", "serve", "--yard", str(yard), "--port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as server:
        try:
            first = server.stdout.readline()
            assert f"http://localhost:{port}" in first and "this machine only" in first
            with urllib.request.urlopen(f"http://localhost:{port}/", timeout=20) as answer:
                assert answer.status == 200 and b"grainlog" in answer.read()
            strange = urllib.request.Request(f"http://localhost:{port}/", headers={"Host": "elsewhere.example"})
            with pytest.raises(urllib.error.HTTPError, match="421"):
                urllib.request.urlopen(strange, timeout=20)
        finally:
            server.send_signal(signal.SIGINT)
        _, said = server.communicate(timeout=20)
    assert server.returncode == 0 or (server.returncode == 130 and said.strip() == "Stopped.")
    # The key that signs cookies is its owner's alone.
    assert (yard / "page.key").stat().st_mode & 0o077 == 0


def test_a_port_that_is_taken_is_said(yard, capsys):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(SystemExit) as left:
            cli.main(["serve", "--yard", str(yard), "--port", str(taken.getsockname()[1])])
    assert left.value.code == 1
    told = capsys.readouterr().err
    assert re.fullmatch(r"The page cannot be served on port \d+ \(.*\); name another with --port\.\n", told)


def test_taking_stock_does_not_mind_the_key(yard):
    from grainlog.web.tokens import page_key

    page_key(yard)
    with Yard.open(yard) as opened:
        assert opened.stocktake() == []
