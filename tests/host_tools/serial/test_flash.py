"""Flashing a real MicroPython through mpremote: blank, again, damaged, interrupted, refused."""

import json
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from oxlatch.vocabulary import REST, RUN, SERVICE, STATE_NAMES, TRIP, WAITING
from oxlatch_sim.identity import firmware_digest
from oxlatch_tools.cli import main
from oxlatch_tools.installation_settings import record_bytes
from oxlatch_tools.serial.certificate import Proof, certificate_lines, find_proof
from oxlatch_tools.serial.desk import desk
from oxlatch_tools.serial.device_files import DeviceFiles
from oxlatch_tools.serial.flash import Flashed, Flasher, FlashError, record_digest
from oxlatch_tools.serial.prompt import Found, Prompt, PromptError, explain


def oxlatch(*arguments):
    done = CliRunner().invoke(main, [str(word) for word in arguments])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exc_info
    return done


def test_a_blank_board_is_flashed_verified_and_read_back(tmp_path, aircraft):
    """The whole way: prompt, upload, restart, settings, first sign-off, certificate."""
    with desk(tmp_path / "blank") as running:
        done = oxlatch("flash", "--port", running.port, "--out", tmp_path, "--proof", tmp_path / "none.json", "--json")
    told = json.loads(done.stdout)
    assert done.exit_code == 0, told["problems"]
    result = told["result"]
    assert result["identity"]["files"] == "verified"
    assert result["identity"]["firmware"] == firmware_digest() == told["firmware"]
    assert result["identity"]["settings"] == record_digest(record_bytes(aircraft.settings))
    assert told["installation"] == aircraft.digest
    assert result["signed_off"]
    assert result["state"] == "REST"
    page = (tmp_path / f"certificate-{aircraft.digest}.txt").read_text()
    assert "NOT PROVED: no proof at" in page
    assert "NOT FITTED" in page


@pytest.mark.parametrize("over", ["pty", "socket"])
def test_only_damaged_and_missing_files_are_sent_and_then_nothing_is(board_folder, tmp_path, over):
    """Over a pseudo-terminal or a socket: a flash that repairs, a dry run that touches nothing."""
    good = {path.name: path.read_bytes() for path in (board_folder / "oxlatch").glob("*.mpy")}
    (board_folder / "oxlatch" / "gate.mpy").write_bytes(b"half a fi")
    (board_folder / "oxlatch" / "flow.mpy").unlink()
    with desk(board_folder, over_tcp=over == "socket") as running:
        done = oxlatch("flash", "--port", running.port, "--out", tmp_path, "--json")
        assert done.exit_code == 0, done.stdout
        assert sorted(json.loads(done.stdout)["result"]["changed"]) == ["oxlatch/flow.mpy", "oxlatch/gate.mpy"]
        before = {path: path.stat().st_mtime_ns for path in board_folder.rglob("*.mpy")}
        dry = oxlatch("flash", "--port", running.port, "--dry-run", "--json")
    assert {path.name: path.read_bytes() for path in (board_folder / "oxlatch").glob("*.mpy")} == good
    assert json.loads(dry.stdout)["result"]["changed"] == []
    assert json.loads(dry.stdout)["result"]["state"] == "REST"
    assert {path: path.stat().st_mtime_ns for path in board_folder.rglob("*.mpy")} == before


class FakePrompt(Prompt):
    """A board's file system in a dict. `cut_at` pulls the cable at that operation."""

    def __init__(self, files, cut_at=None):
        super().__init__("fake")
        self.files = files
        self.left = cut_at
        self.calls = 0
        self.spoil = False

    def _cut(self):
        self.calls += 1
        if self.left is not None:
            self.left -= 1
            if self.left < 0:
                raise PromptError("port fake: the port has gone; plug the cable in and run the command again")

    def look(self):
        self._cut()
        return Found((1, 29, 0), 6, "linux", "fake", 10**6)

    def hashes(self, names):
        self._cut()
        import hashlib

        return {n: hashlib.sha256(self.files[n]).hexdigest() if n in self.files else "" for n in names}

    def make_folders(self, names):
        self._cut()

    def put(self, copies):
        for source, name in copies:
            try:
                self._cut()
            except PromptError:
                self.files[name] = source.read_bytes()[:7]
                raise
            self.files[name] = source.read_bytes()[:-1] if self.spoil else source.read_bytes()

    def rename_new(self, names):
        for name in names:
            self._cut()
            self.files[name] = self.files.pop(name + ".new")

    def remove(self, names):
        for name in names:
            self.files.pop(name, None)


@pytest.fixture
def built():
    """Files of a board, small ones: what matters is in which order they come and go."""
    names = ("boot.py", "main.py", "manifest.json", *(f"oxlatch/{letter}.mpy" for letter in "abcdefgh"))
    return DeviceFiles("desk", "12345678", {name: b"new " + name.encode() * 3 for name in names})


def uploader(files, cut_at=None):
    flasher = Flasher("fake", b"\0" * 8, lambda text: None, lambda at, of, name: None)
    flasher.prompt = FakePrompt(files, cut_at)
    return flasher


def upload(flasher, built, work):
    flasher._compare(built, flasher._look())
    flasher._upload(built, work)


def test_a_cable_pulled_at_any_operation_leaves_old_or_new_files_and_the_next_run_finishes(built, tmp_path):
    old = {name: b"old " + name.encode() for name in built.files}
    whole = uploader(dict(old))
    upload(whole, built, tmp_path)
    assert whole.prompt.files == built.files
    for cut in range(whole.prompt.calls):
        files = dict(old)
        with pytest.raises(PromptError):
            upload(uploader(files, cut), built, tmp_path)
        for name in built.files:
            assert name not in files or files[name] in (old[name], built.files[name])
        upload(uploader(files), built, tmp_path)
        assert {name: files[name] for name in built.files} == built.files


def test_a_file_that_arrives_otherwise_than_sent_takes_no_name(built, tmp_path):
    files = dict.fromkeys(built.files, b"old")
    flasher = uploader(files)
    flasher.prompt.spoil = True
    with pytest.raises(FlashError, match="did not arrive as sent; the old files are untouched"):
        upload(flasher, built, tmp_path)
    assert files == dict.fromkeys(built.files, b"old")


def test_a_full_file_system_is_told_before_anything_is_sent(built, tmp_path):
    flasher = uploader({})
    flasher.prompt.look = lambda: Found((1, 29, 0), 6, "linux", "fake", 1000)
    with pytest.raises(FlashError, match="1000 bytes free"):
        upload(flasher, built, tmp_path)
    assert flasher.prompt.files == {}


def test_bytecode_of_another_version_is_refused_before_anything_is_sent(built, tmp_path):
    flasher = uploader({})
    flasher.prompt.look = lambda: Found((1, 40, 0), 7, "rp2", "fake", 10**6)
    with pytest.raises(FlashError, match="reads bytecode version 7"):
        upload(flasher, built, tmp_path)


class FakeClient:
    """A controller in one state that may grant service."""

    def __init__(self, state, grants):
        self.state = state
        self.grants = grants
        self.restarts = []

    def identity(self):
        return {"board": "rp2", "firmware": "00000000", "settings": "0"}

    def settled(self):
        return SimpleNamespace(state=self.state)

    def enter_service(self):
        return SimpleNamespace(state=SERVICE if self.grants else self.state)

    def restart(self, maintenance):
        self.restarts.append(maintenance)


@pytest.mark.parametrize("state", [RUN, WAITING, TRIP])
def test_a_controller_that_is_not_at_rest_is_not_touched(state):
    flasher = uploader({})
    client = FakeClient(state, grants=False)
    with pytest.raises(FlashError, match=f"the controller is in {STATE_NAMES[state]}; nothing was touched"):
        flasher._ask_into_maintenance(client, dry_run=False)
    assert client.restarts == []


@pytest.mark.parametrize(("state", "grants"), [(REST, False), (TRIP, True)])
def test_a_controller_at_rest_or_in_service_is_asked_into_maintenance(state, grants):
    client = FakeClient(state, grants)
    uploader({})._ask_into_maintenance(client, dry_run=False)
    assert client.restarts == [True]


@pytest.mark.parametrize(
    ("told", "message"),
    [
        ("failed to access /dev/x (it may be in use by another program)", "another program holds it"),
        ("mpremote.transport.TransportError: could not enter raw repl", "no MicroPython prompt answers"),
        ("OSError: [Errno 28] ENOSPC", "file system is full"),
        ("mpremote: failed to access /dev/x", "the port has gone"),
        ("Traceback\nValueError: odd", "ValueError: odd"),
    ],
)
def test_what_mpremote_says_becomes_one_sentence(told, message):
    assert message in explain(told)


@pytest.mark.parametrize(
    ("answer", "message"),
    [
        ({"name": "cpython", "version": [3, 11, 0]}, "cpython runs there; MicroPython is needed"),
        ({"name": "micropython", "version": [1, 20, 0]}, "MicroPython 1.20.0 runs there; 1.28 or newer is needed"),
    ],
)
def test_another_or_an_older_python_is_refused(answer, message):
    prompt = Prompt("fake")
    prompt._ask = lambda script: {"mpy": 6, "platform": "rp2", "machine": "", "free": 0, **answer}
    with pytest.raises(PromptError, match=message):
        prompt.look()


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((), "--port is missing"),
        (("--port", "/dev/nothing-here"), "there is no such port"),
        (("--port", "socket://127.0.0.1:1"), "nothing answers there"),
        (("--port", "nonsense://x"), "not a port"),
        (("no-such-file.toml", "--port", "desk"), "no-such-file.toml"),
    ],
)
def test_bad_input_is_one_message_and_exit_2(arguments, message, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = oxlatch("flash", *arguments)
    assert done.exit_code == 2
    assert message in done.stderr
    assert not list(tmp_path.iterdir())


def test_a_port_held_by_another_program_is_told(board_folder):
    from oxlatch_tools.serial.port import open_line

    with desk(board_folder) as running:
        held = open_line(running.port)
        done = oxlatch("watch", "--port", running.port, "--seconds", "1")
        held.close()
    assert done.exit_code == 2
    assert "another program holds it" in done.stderr


def test_the_list_says_how_to_begin_with_a_blank_board():
    done = oxlatch("flash", "--list")
    assert done.exit_code == 0
    assert "A blank board" in done.stdout
    assert "desk" in done.stdout


WHOLE = {
    "digest": "d1d2d3d4",
    "symbolic": {"claims": [{"proved": True}]},
    "exhaustive": {"stages": 2, "claims": [{"holds": True}]},
    "alive": {"ok": True},
    "channels": [{"name": "rpm", "broken": ""}],
    "reference": {"ok": True, "steps": 200_000},
    "second_opinion": {"confirmed": True},
}
PROOF = {"command": "prove", "ok": True, "firmware": "aaaaaaaa", "result": WHOLE}


@pytest.mark.parametrize(
    ("change", "line"),
    [
        ({}, "PROVED: proof d1d2d3d4"),
        ({"ok": False}, "NOT PROVED: the proof in"),
        ({"firmware": "bbbbbbbb"}, "NOT PROVED: the proof in"),
        ({"command": "run"}, "NOT PROVED"),
        ({"result": {**WHOLE, "settings": "other"}}, "NOT PROVED: the proof in"),
        ({"result": {**WHOLE, "digest": ""}}, "NOT PROVED: the proof in"),
        ({"result": []}, "NOT PROVED"),
    ],
)
def test_the_certificate_names_the_proof_of_exactly_these_files_or_says_not_proved(change, line, tmp_path):
    path = tmp_path / "prove.json"
    path.write_text(json.dumps({**PROOF, **change}))
    proof = find_proof(path, "aaaaaaaa", "cccccccc")
    assert proof.line.startswith(line)
    done = Flashed("desk", board="desk", firmware="aaaaaaaa", not_fitted=["PROOF"])
    page = certificate_lines(done, proof)
    assert proof.line in page
    assert any(row.startswith("NOT FITTED") and "PROOF" in row for row in page)


NAMES = {"second_opinion": "second opinion"}


@pytest.mark.parametrize("key", [key for key in WHOLE if key != "digest"])
@pytest.mark.parametrize("told", [None, {}, []])
def test_a_proof_with_an_argument_left_out_is_not_proved_and_says_which(key, told, tmp_path):
    path = tmp_path / "prove.json"
    path.write_text(json.dumps({**PROOF, "result": {**WHOLE, key: told}}))
    proof = find_proof(path, "aaaaaaaa", "cccccccc")
    assert proof.digest == ""
    assert proof.line.endswith(f"is not whole; not run: {NAMES.get(key, key)}")


@pytest.mark.parametrize(
    ("key", "told"),
    [
        ("symbolic", {"claims": [{"proved": True}, {"proved": False}]}),
        ("symbolic", {"claims": []}),
        ("exhaustive", {"stages": 2, "claims": [{"holds": False}]}),
        ("alive", {"ok": False}),
        ("channels", [{"name": "rpm", "broken": "two samples"}]),
        ("reference", {"ok": True, "steps": 0}),
        ("reference", {"strange": 1}),
        ("second_opinion", {"confirmed": False}),
    ],
)
def test_a_proof_whose_argument_fails_is_not_proved_whatever_its_headline(key, told, tmp_path):
    path = tmp_path / "prove.json"
    path.write_text(json.dumps({**PROOF, "result": {**WHOLE, key: told}}))
    proof = find_proof(path, "aaaaaaaa", "cccccccc")
    assert proof.digest == ""
    assert proof.line.endswith(f"does not hold: {NAMES.get(key, key)}")


def test_the_certificate_names_every_file_with_its_digest_and_what_made_it():
    done = Flashed("desk", compiler="a compiler 1.2", files={"boot.py": "ab" * 32, "oxlatch/gate.mpy": "cd" * 32})
    page = certificate_lines(done, Proof("", "x"))
    assert any(row.startswith("made by") and "a compiler 1.2" in row for row in page)
    assert page[-2:] == ["ab" * 32 + "  boot.py", "cd" * 32 + "  oxlatch/gate.mpy"]


def test_no_proof_file_or_a_broken_one_is_not_proved(tmp_path):
    assert find_proof(tmp_path / "none", "a", "b").digest == ""
    (tmp_path / "broken").write_text("{")
    assert find_proof(tmp_path / "broken", "a", "b").line.startswith("NOT PROVED")
    assert Proof("", "x").line == "NOT PROVED: x"
