"""What the program remembers goes where the user wants settings kept."""

from layout_app.window import memory


def test_the_folder_for_settings_holds_the_recent_files_too(tmp_path, monkeypatch):
    file = tmp_path / "tender.busweave"
    file.write_text("{}", encoding="utf-8")
    memory.remember_file(file)
    monkeypatch.setenv("BUSWEAVE_CONFIG_DIR", str(tmp_path / "elsewhere"))
    assert memory.recent_files() == []
    memory.remember_file(file)
    assert memory.recent_files() == [file.resolve()]
    assert (tmp_path / "elsewhere" / "window.ini").is_file()
