"""Saving in one step: the old file or the new one, and the previous one kept."""

import errno
import os
import stat
from pathlib import Path

import pytest

from layout_app.model import saved_file
from layout_app.model.atomic import backup_path, replace_file
from layout_app.model.errors import FileError

SAMPLE = Path(__file__).parents[1] / "data" / "layouts" / "version_1.busweave"


@pytest.fixture
def path(tmp_path):
    target = tmp_path / "tender.busweave"
    target.write_bytes(b"old")
    return target


def names_in(folder):
    return sorted(item.name for item in folder.iterdir())


def test_a_new_file_appears_alone(tmp_path):
    replace_file(tmp_path / "new.busweave", b"first")
    assert (tmp_path / "new.busweave").read_bytes() == b"first"
    assert names_in(tmp_path) == ["new.busweave"]


def test_saving_a_layout_and_opening_it_gives_it_back(path):
    layout = saved_file.load(SAMPLE)
    saved_file.save(layout, path)
    assert saved_file.load(path) == layout
    assert saved_file.load(str(path)) == layout


def test_the_previous_file_is_kept_and_is_the_last_one_each_time(path):
    replace_file(path, b"second")
    replace_file(path, b"third")
    assert path.read_bytes() == b"third"
    assert backup_path(path).read_bytes() == b"second"
    assert names_in(path.parent) == ["tender.busweave", "tender.busweave~"]


def test_the_previous_file_is_kept_without_hard_links_too(path, monkeypatch):
    def no_links(*_):
        raise OSError(errno.EPERM, "Operation not permitted")

    path.chmod(0o640)
    monkeypatch.setattr(os, "link", no_links)
    replace_file(path, b"second")
    assert backup_path(path).read_bytes() == b"old"
    assert stat.S_IMODE(backup_path(path).stat().st_mode) == 0o640


def test_a_backup_that_is_the_file_itself_is_no_obstacle(path):
    os.link(path, backup_path(path))  # what a crash between the two renames leaves behind
    replace_file(path, b"second")
    assert (path.read_bytes(), backup_path(path).read_bytes()) == (b"second", b"old")
    assert names_in(path.parent) == ["tender.busweave", "tender.busweave~"]


@pytest.mark.parametrize("mode", [0o600, 0o644, 0o664])
def test_permissions_stay(path, mode):
    path.chmod(mode)
    replace_file(path, b"second")
    assert stat.S_IMODE(path.stat().st_mode) == mode


def test_a_new_file_gets_the_permissions_any_new_file_gets(tmp_path):
    (tmp_path / "plain").write_bytes(b"")
    replace_file(tmp_path / "ours", b"")
    assert (tmp_path / "ours").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_a_symbolic_link_stays_one_and_its_target_is_replaced(path, tmp_path):
    link = tmp_path / "folder" / "link.busweave"
    link.parent.mkdir()
    link.symlink_to("../tender.busweave")
    replace_file(link, b"second")
    assert link.is_symlink()
    assert path.read_bytes() == b"second"
    assert names_in(link.parent) == ["link.busweave"]
    assert backup_path(link) == backup_path(path)


def test_a_link_to_nothing_makes_the_file_it_names(tmp_path):
    link = tmp_path / "link.busweave"
    link.symlink_to("later.busweave")
    replace_file(link, b"first")
    assert (tmp_path / "later.busweave").read_bytes() == b"first"


@pytest.mark.parametrize("name", ["fsync", "mkdir"])
def test_a_failure_leaves_the_old_file_no_litter_and_a_clear_message(path, monkeypatch, name):
    number = {"fsync": errno.ENOSPC, "mkdir": errno.EACCES}[name]  # a full disk shows at fsync; a read-only folder

    def fails(*_, **__):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, name, fails)
    with pytest.raises(FileError) as caught:
        replace_file(path, b"second")
    assert str(caught.value).startswith(f"{path}: not saved: {os.strerror(number)}.")
    assert path.read_bytes() == b"old"
    assert names_in(path.parent) == ["tender.busweave"]


def test_a_failure_at_the_last_step_leaves_the_old_file(path, monkeypatch):
    real = Path.replace

    def fails_for_the_new_one(self, target):
        if self.name == "new":
            raise OSError(errno.EIO, "Input/output error")
        return real(self, target)

    monkeypatch.setattr(Path, "replace", fails_for_the_new_one)
    with pytest.raises(FileError, match="Input/output error"):
        replace_file(path, b"second")
    assert path.read_bytes() == b"old"
    assert backup_path(path).read_bytes() == b"old"
    assert names_in(path.parent) == ["tender.busweave", "tender.busweave~"]


def test_data_is_on_the_disk_before_it_takes_the_name(path, monkeypatch):
    steps = []
    real_sync, real_replace = os.fsync, Path.replace
    monkeypatch.setattr(os, "fsync", lambda handle: (steps.append("sync"), real_sync(handle))[1])
    monkeypatch.setattr(
        Path, "replace", lambda self, target: (steps.append(f"replace {self.name}"), real_replace(self, target))[1]
    )
    replace_file(path, b"second")
    assert steps == ["sync", "replace previous", "replace new", "sync"]


def test_a_folder_that_cannot_be_synced_does_not_undo_the_save(path, monkeypatch):
    real = os.fsync

    def no_folders(handle):
        if stat.S_ISDIR(os.fstat(handle).st_mode):
            raise OSError(errno.EINVAL, "Invalid argument")
        real(handle)

    monkeypatch.setattr(os, "fsync", no_folders)
    replace_file(path, b"second")
    assert path.read_bytes() == b"second"


def test_a_write_protected_file_is_not_replaced(path, monkeypatch):
    monkeypatch.setattr(os, "access", lambda *_: False)  # the super-user may write anything, so ask in its place
    with pytest.raises(FileError, match="write-protected"):
        replace_file(path, b"second")
    assert path.read_bytes() == b"old"


@pytest.mark.parametrize(
    ("name", "says"),
    [("nowhere/x.busweave", "No such file"), ("folder", "a folder"), ("nul\0", "null"), ("x" * 300, "too long")],
)
def test_places_no_file_can_take_are_refused_clearly(tmp_path, name, says):
    (tmp_path / "folder").mkdir()
    with pytest.raises(FileError, match=says):
        replace_file(tmp_path / name, b"data")
    assert names_in(tmp_path) == ["folder"]
