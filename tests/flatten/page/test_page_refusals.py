"""What the page refuses: other names, origins, keys, sizes, and everything outside of the chosen folder."""

import json
import os
import signal
import socket
import time

import httpx
import pytest

from flatten.page.access import KEY_HEADER, MOST_BODY_BYTES
from flatten.page.serve import agreed, lan_addresses, opened, place_of, told
from meshes.base.problems import ProblemError
from tests.running import LIMIT_S, alive, children, needs_proc, until
from tests.running import started as started_command


def code_of(answer: httpx.Response) -> str:
    return answer.json()["problems"][0]["code"]


def get(running, path, **headers):
    return httpx.get(running.base + path, headers=headers, timeout=30)


def test_the_shell_needs_no_key_and_holds_no_data(running):
    for path in ("/", "/main.js", "/page.css", "/three/three.module.min.js"):
        answer = get(running, path)
        assert answer.status_code == 200
        assert str(running.folder) not in answer.text
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
    assert "<script>" not in get(running, "/").text
    assert "style=" not in get(running, "/").text


@pytest.mark.parametrize("key", [None, "", "wrong", "ä"])
def test_data_need_the_key_of_this_start_on_loopback_too(running, key):
    headers = {} if key is None else {KEY_HEADER: key.encode()}
    for path in ("/api/folder", "/api/openapi.json", "/api/sheets/a.toml", "/api/nothing"):
        answer = get(running, path, **headers)
        assert (answer.status_code, code_of(answer)) == (401, "W301")
    assert get(running, "/api/folder", **{KEY_HEADER: running.key}).status_code == 200


def test_the_key_is_taken_from_a_header_alone(running):
    assert get(running, f"/api/folder?key={running.key}").status_code == 401
    assert get(running, "/api/folder", Cookie=f"key={running.key}").status_code == 401


@pytest.mark.parametrize("host", ["evil.example", "evil.example:80", "127.0.0.1", "127.0.0.1:1", ""])
def test_a_foreign_host_is_refused(running, host):
    for path in ("/", "/api/folder"):
        answer = get(running, path, Host=host, **running.headers)
        assert answer.status_code in (400, 403)
        assert "problems" not in answer.text or code_of(answer) == "W302"


def test_a_foreign_origin_is_refused_and_never_allowed(running):
    for origin in ("http://evil.example", "null", running.base.replace("http:", "https:"), running.base + "0"):
        answer = get(running, "/api/folder", Origin=origin, **running.headers)
        assert (answer.status_code, code_of(answer)) == (403, "W303")
        assert not [name for name in answer.headers if name.startswith("access-control")]
    assert get(running, "/api/folder", Origin=running.base, **running.headers).status_code == 200
    for site in ("cross-site", "same-site"):
        assert get(running, "/api/folder", **{"Sec-Fetch-Site": site, **running.headers}).status_code == 403


def test_no_answer_to_a_question_before_a_foreign_request(running):
    headers = {"Origin": "http://evil.example", "Access-Control-Request-Headers": KEY_HEADER}
    answer = httpx.options(running.base + "/api/folder", headers=headers)
    assert answer.status_code == 403
    assert not [name for name in answer.headers if name.startswith("access-control")]


def test_too_much_is_refused_said_or_not(running):
    big = b"x" * (MOST_BODY_BYTES + 1)
    answer = running.ask("POST", "/api/sheets", content=big)
    assert (answer.status_code, code_of(answer)) == (413, "W304")
    try:
        answer = running.ask("POST", "/api/sheets", content=(big[k : k + 65536] for k in range(0, len(big), 65536)))
        assert (answer.status_code, code_of(answer)) == (413, "W304")
    except httpx.TransportError:
        pass
    assert running.ask("GET", "/api/folder").status_code == 200


@pytest.mark.parametrize("body", [b"", b"{", b"[1]", b'{"kind": 3}', b'{"kind": "box"}', b"[" * 100_000])
def test_what_is_no_request_is_told_so(running, body):
    answer = running.ask("POST", "/api/sheets", content=body)
    assert (answer.status_code, code_of(answer)) == (400, "W305")


OUTSIDE = ["%2e%2e%2fsecret.toml", "..%5csecret.toml", "%2fetc%2fpasswd", ".hidden.toml", "a.txt", "nul%00.toml",
           "x%0a.toml",
           "link.toml", "folder.toml", "pipe.toml", ".trimloft-page", "%2e%2e"]  # fmt: skip


@pytest.mark.parametrize("name", OUTSIDE)
def test_nothing_outside_of_the_folder_is_read_or_written(running, name):
    secret = running.folder.parent / "secret.toml"
    secret.write_text('name = "secret"\n')
    makers = {"link.toml": lambda p: os.symlink(secret, p), "folder.toml": os.mkdir, "pipe.toml": os.mkfifo}
    for path, make in makers.items():
        if not os.path.lexists(running.folder / path):
            make(running.folder / path)
    for method, path in (("GET", ""), ("GET", "/text"), ("POST", "/undo"), ("POST", "/papers"), ("GET", "/handover")):
        answer = running.ask(method, f"/api/sheets/{name}{path}", json={"base": "x"} if method == "POST" else None)
        assert answer.status_code in (403, 404), (method, path, answer.text)
        assert "secret" not in answer.text.replace("secret.toml", "")
    assert secret.read_text() == 'name = "secret"\n'


def test_a_sheet_cannot_lead_out_by_its_leather_card(running):
    made = running.begin("box", "Leads out")
    for leather in ("../secret.toml:a", "/etc/passwd.toml", "link.toml", "sub/cards.toml:x"):
        if leather == "link.toml" and not os.path.lexists(running.folder / leather):
            os.symlink(running.folder.parent / "secret.toml", running.folder / leather)
        body = {"base": made["mark"], "changes": [{"keys": ["cover", "leather"], "value": leather}]}
        made = running.ask("POST", f"/api/sheets/{made['sheet']}/change", json=body).json()
        assert not made["usable"]
        assert made["problems"][0]["code"] == "W307"
        answer = running.ask("POST", f"/api/sheets/{made['sheet']}/look")
        assert (answer.status_code, code_of(answer)) == (403, "W307")


@pytest.mark.parametrize(("keys", "row"), [(["hide"], {"name": "red", "scale": 1.0, "file": "*.svg"}),
                                           (["cutting"], {"prices": "*.csv"})])  # fmt: skip
def test_a_sheet_cannot_lead_out_by_other_files_it_names(running, keys, row):
    made = running.begin("box", "Leads out again")
    (end,) = [key for key, value in row.items() if str(value).startswith("*")]
    secret = running.folder.parent / f"secret{row[end][1:]}"
    secret.write_text("item,price,per\nsecret,secret,m\n")
    if not os.path.lexists(running.folder / f"link{secret.suffix}"):
        os.symlink(secret, running.folder / f"link{secret.suffix}")
    path = running.folder / made["sheet"]
    for name in (f"../{secret.name}", str(secret), f"link{secret.suffix}", f"sub/{secret.name}"):
        table = "\n".join(f"{key} = {json.dumps(name if key == end else value)}" for key, value in row.items())
        head = f"[[{keys[0]}]]" if keys == ["hide"] else f"[{keys[0]}]"
        path.write_text(f"{path.read_text().partition('# out')[0]}# out\n{head}\n{table}\n")
        told = running.ask("GET", f"/api/sheets/{made['sheet']}").json()
        assert (told["usable"], told["problems"][0]["code"]) == (False, "W307")
        answer = running.ask("POST", f"/api/sheets/{made['sheet']}/papers", json={})
        assert (answer.status_code, code_of(answer)) == (403, "W307")
        assert "secret,secret" not in answer.text


def test_papers_are_only_those_that_were_written(running):
    made = running.begin("box", "Papers of mine")
    folder = running.folder / "papers-of-mine patterns"
    folder.mkdir()
    (folder / "notes.txt").write_text("mine")
    for name in ("notes.txt", "..%2f..%2fsecret.toml", ".trimloft-make.json", "patterns.pdf"):
        answer = running.ask("GET", f"/api/sheets/{made['sheet']}/papers/{name}")
        assert answer.status_code == 404
    os.rename(folder, running.folder / "elsewhere")
    os.symlink(running.folder / "elsewhere", folder)
    for method, path in (("GET", "/papers"), ("GET", "/papers/notes.txt"), ("POST", "/papers")):
        answer = running.ask(method, f"/api/sheets/{made['sheet']}{path}", json={} if method == "POST" else None)
        assert (answer.status_code, code_of(answer)) == (403, "W307")


def test_a_sheet_changed_elsewhere_is_not_written_over(running):
    made = running.begin("box", "Changed elsewhere")
    path = running.folder / made["sheet"]
    theirs = path.read_text().replace("480", "481")
    path.write_text(theirs)
    body = {"base": made["mark"], "changes": [{"keys": ["pad", 0, "outline", "depth"], "value": 450}]}
    answer = running.ask("POST", f"/api/sheets/{made['sheet']}/change", json=body)
    assert (answer.status_code, code_of(answer)) == (409, "W308")
    assert path.read_text() == theirs
    mine = running.ask("GET", f"/api/sheets/{made['sheet']}/text?mark={made['mark']}").text
    assert "480" in mine
    now = running.ask("GET", f"/api/sheets/{made['sheet']}").json()
    kept = running.ask("POST", f"/api/sheets/{made['sheet']}/keep",
                       json={"base": now["mark"], "mark": made["mark"], "changes": body["changes"]}).json()  # fmt: skip
    assert "480" in path.read_text()
    assert "450" in path.read_text()
    assert running.ask("POST", f"/api/sheets/{made['sheet']}/undo", json={"base": kept["mark"]}).status_code == 200
    assert path.read_text() == theirs


def test_what_was_deleted_is_told(running):
    made = running.begin("box", "Deleted")
    (running.folder / made["sheet"]).unlink()
    body = {"base": made["mark"], "changes": [{"keys": ["name"], "value": "x"}]}
    for method, path, sent in (("GET", "", None), ("POST", "/change", body), ("POST", "/look", None)):
        answer = running.ask(method, f"/api/sheets/{made['sheet']}{path}", json=sent)
        assert (answer.status_code, code_of(answer)) == (404, "W306")
    assert not (running.folder / made["sheet"]).exists()


def test_a_second_window_hears_of_a_change_by_the_page_and_by_an_editor(running):
    made = running.begin("box", "Two windows")
    with httpx.stream("GET", running.base + "/api/news", headers=running.headers, timeout=30) as news:
        lines = news.iter_lines()
        assert json.loads(next(lines)) == {"kind": "hello"}
        body = {"base": made["mark"], "changes": [{"keys": ["pad", 0, "outline", "depth"], "value": 451}]}
        now = running.ask("POST", f"/api/sheets/{made['sheet']}/change", json=body).json()
        heard = next(row for row in map(json.loads, lines) if row.get("sheet") == made["sheet"])
        assert (heard["kind"], heard["mark"]) == ("sheet", now["mark"])
        path = running.folder / made["sheet"]
        time.sleep(1.2)
        path.write_text(path.read_text() + "# by hand\n")
        heard = next(row for row in map(json.loads, lines) if row.get("elsewhere") and row["sheet"] == made["sheet"])
        assert heard["mark"] != now["mark"]


def test_a_full_or_closed_folder_loses_nothing(running, tmp_path):
    made = running.begin("box", "Cannot be written")
    (running.folder / ".trimloft-page" / made["sheet"]).rename(tmp_path / "kept")
    (running.folder / ".trimloft-page" / made["sheet"]).write_text("in the way")
    before = (running.folder / made["sheet"]).read_text()
    body = {"base": made["mark"], "changes": [{"keys": ["pad", 0, "outline", "depth"], "value": 452}]}
    answer = running.ask("POST", f"/api/sheets/{made['sheet']}/change", json=body)
    assert answer.status_code == 422
    assert code_of(answer) in ("W320", "P004")
    assert (running.folder / made["sheet"]).read_text() == before


def test_a_taken_port_and_a_place_that_is_none_are_told(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(ProblemError, match="W313"):
            opened(tmp_path, port=taken.getsockname()[1])
    for place in (tmp_path / "none", tmp_path / "none.toml", __file__):
        with pytest.raises(ProblemError, match="W315"):
            place_of(type(tmp_path)(place))


def test_the_network_is_asked_for_and_its_address_is_told(tmp_path, capsys):
    for reply in (None, lambda _: "", lambda _: "no"):
        with pytest.raises(ProblemError, match="W314"):
            agreed(reply)
    assert "not encrypted" in capsys.readouterr().out
    agreed(lambda _: "yes")
    opening = opened(tmp_path, lan=True)
    try:
        assert len(opening.sockets) == 1 + len(lan_addresses())
        lines = told(opening, lan=["10.1.2.3"])
        assert opening.address("10.1.2.3") in lines[1]
        assert "█" in lines[2]
        assert all(len(row) == len(lines[2].splitlines()[0]) for row in lines[2].splitlines())
    finally:
        for one in opening.sockets:
            one.close()


def test_a_key_is_new_at_every_start(tmp_path):
    keys = set()
    for _ in range(3):
        opening = opened(tmp_path)
        opening.sockets[0].close()
        keys.add(opening.key)
    assert len(keys) == 3
    assert all(len(key) >= 24 for key in keys)


@pytest.mark.parametrize("port", [-1, 65_536, 10**400])
def test_a_port_there_is_not_is_told(tmp_path, port):
    with pytest.raises(ProblemError, match="W313"):
        opened(tmp_path, port=port)


@needs_proc
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_server_that_is_stopped_says_one_line_and_leaves_nobody(tmp_path, number):
    command = started_command("-m", "flatten", "page", tmp_path, "--no-browser")
    assert "bench page" in command.stdout.readline()
    until(lambda: children(command.pid) or command.poll() is not None, "its worker")
    # The server listens to signals once it answers.
    time.sleep(1.0)
    below = children(command.pid)
    command.send_signal(number)
    _, err = command.communicate(timeout=LIMIT_S)
    until(lambda: not [one for one in below if alive(one)], "the worker to end")
    assert (command.returncode, err.count("\n")) == (128 + number, 1), err
