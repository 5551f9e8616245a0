"""The hash under which originals are kept, against its standard."""

from grainlog.yard import disk

# FIPS 180-4, the example message "abc" of the standard's SHA-256 examples (digest from memory).
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_sha256_is_the_standards(tmp_path):
    (tmp_path / "abc").write_bytes(b"abc")
    assert disk.sha256_of(tmp_path / "abc") == ABC
    assert disk.copy_hashed(tmp_path / "abc", tmp_path / "copy") == ABC
    assert (tmp_path / "copy").read_bytes() == b"abc"


def test_a_long_file_is_hashed_chunk_by_chunk(tmp_path):
    data = bytes(range(256)) * (3 * disk.CHUNK // 256) + b"end"
    (tmp_path / "long").write_bytes(data)
    assert disk.copy_hashed(tmp_path / "long", tmp_path / "copy") == disk.sha256_of(tmp_path / "copy")
    assert (tmp_path / "copy").read_bytes() == data
