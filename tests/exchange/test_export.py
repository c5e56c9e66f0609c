"""Export: what lands in the folder, and what is left alone."""

from __future__ import annotations

import errno
import json
import os
from dataclasses import replace

import pytest

from layout_app.exchange.export import KINDS, LIST_NAME, export
from layout_app.exchange.wording import file_name
from layout_app.model.errors import LayoutError

from .builders import rover_layout, rover_segments


def exported(folder, layout=None, **options):
    layout = layout or rover_layout()
    return export(layout, rover_segments(layout), (), (), folder, **options)


def names(folder) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def test_everything_lands_in_one_folder_named_after_the_layout(tmp_path):
    files = exported(tmp_path / "out")
    folder = tmp_path / "out" / "orchard_rover"
    assert names(tmp_path) == {str(file.relative_to(tmp_path)) for file in files} | {f"out/orchard_rover/{LIST_NAME}"}
    for name in ("top_face.dxf", "bottom_face_seen_from_below.dxf", "segments/segment_03_top.dxf", "report.html",
                 "tables/joints.csv", "drawings/top_face.svg"):  # fmt: skip
        assert (folder / name).stat().st_size > 0


def test_only_the_kinds_asked_for_are_written(tmp_path):
    assert {file.suffix for file in exported(tmp_path, only=["tables"])} == {".csv"}
    assert {file.suffix for file in exported(tmp_path, only=["dxf"])} == {".dxf"}


@pytest.mark.parametrize("only", [["drawing"], [], ["tables", "pdf"]])
def test_an_unknown_kind_is_answered_with_those_there_are(tmp_path, only):
    with pytest.raises(LayoutError, match=", ".join(KINDS)):
        exported(tmp_path, only=only)
    assert not names(tmp_path)


def test_the_dxf_version_is_passed_on_and_checked(tmp_path):
    exported(tmp_path, only=["dxf"], dxf_version="R12")
    assert b"AC1009" in (tmp_path / "orchard_rover" / "top_face.dxf").read_bytes()
    with pytest.raises(LayoutError, match="R2010 or R12"):
        exported(tmp_path, dxf_version="R99")


def test_a_second_export_replaces_its_own_files_and_takes_away_those_no_longer_made(tmp_path):
    exported(tmp_path, rover_layout(4, 3))
    assert (tmp_path / "orchard_rover/segments/segment_04_bottom.dxf").exists()
    files = exported(tmp_path, rover_layout(3, 3))
    assert not (tmp_path / "orchard_rover/segments/segment_04_bottom.dxf").exists()
    assert names(tmp_path / "orchard_rover") == {
        str(file.relative_to(tmp_path / "orchard_rover")) for file in files
    } | {LIST_NAME}


def test_exporting_one_kind_leaves_the_others(tmp_path):
    exported(tmp_path)
    before = names(tmp_path)
    exported(tmp_path, only=["report"])
    assert names(tmp_path) == before
    exported(tmp_path)  # and the list still knows them as ours
    assert names(tmp_path) == before


def test_a_stale_file_somebody_has_worked_on_stays(tmp_path):
    exported(tmp_path, rover_layout(4, 3))
    edited = tmp_path / "orchard_rover/segments/segment_04_bottom.dxf"
    edited.write_text("changed by hand")
    exported(tmp_path, rover_layout(3, 3))
    assert edited.read_text() == "changed by hand"


def test_a_file_that_is_not_ours_is_neither_overwritten_nor_removed(tmp_path):
    folder = tmp_path / "orchard_rover"
    folder.mkdir()
    (folder / "report.html").write_text("mine")
    (folder / "other.txt").write_text("mine too")
    with pytest.raises(LayoutError, match=r"report\.html.*not written by an export"):
        exported(tmp_path, only=["report"])
    assert (folder / "report.html").read_text() == "mine"
    exported(tmp_path, only=["tables"])
    assert (folder / "other.txt").read_text() == "mine too"


@pytest.mark.parametrize("text", ["{", "[]", '{"dxf": 3}', "\xff"])
def test_a_list_that_is_none_of_ours_is_refused(tmp_path, text):
    (tmp_path / "orchard_rover").mkdir()
    (tmp_path / "orchard_rover" / LIST_NAME).write_text(text, encoding="latin-1")
    with pytest.raises(LayoutError, match=LIST_NAME):
        exported(tmp_path)
    assert names(tmp_path) == {f"orchard_rover/{LIST_NAME}"}


def test_a_tampered_list_cannot_reach_outside_the_folder(tmp_path):
    outside = tmp_path / "precious.txt"
    outside.write_bytes(b"")
    digest_of_nothing = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"  # SHA-256, FIPS 180-4
    (tmp_path / "orchard_rover").mkdir()
    listed = {"dxf": {"../precious.txt": digest_of_nothing, str(outside): digest_of_nothing}}
    (tmp_path / "orchard_rover" / LIST_NAME).write_text(json.dumps(listed))
    exported(tmp_path)
    assert outside.exists()


def test_a_folder_that_is_a_file_is_named_in_the_message(tmp_path):
    (tmp_path / "out").write_text("a file")
    with pytest.raises(LayoutError, match=r"out.*Choose another"):
        exported(tmp_path / "out")


def test_a_full_disk_is_told_and_leaves_the_earlier_file_whole(tmp_path, monkeypatch):
    exported(tmp_path, only=["report"])
    report = tmp_path / "orchard_rover/report.html"
    before = report.read_bytes()

    def full(_handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(LayoutError, match="no space left on device"):
        exported(tmp_path, replace(rover_layout(), notes="other"), only=["report"])
    assert report.read_bytes() == before
    assert not [name for name in names(tmp_path) if name.endswith(".part")]


def test_progress_climbs_to_one_file_by_file_and_may_end_the_export(tmp_path):
    heard: list[float] = []
    files = exported(tmp_path, progress=heard.append)
    assert heard == pytest.approx([(k + 1) / len(files) for k in range(len(files))])

    def stop(_share: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        exported(tmp_path / "second", progress=stop)
    assert not names(tmp_path / "second")


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("Orchard rover: tray 2/3", "orchard_rover_tray_2_3"),
        ("../../etc/passwd", "etc_passwd"),
        ("  ", "layout"),
        ("日本", "layout"),
        ("CON", "con_layout"),
        ("a" * 300, "a" * 60),
        ("buoy\n\x00", "buoy"),
    ],
)
def test_names_become_file_names_any_system_takes(name, stem):
    assert file_name(name) == stem
