# SPDX-License-Identifier: GPL-3.0-or-later
"""JupyterLab on the loopback for a test: started on a free port, its notebook opened in a browser, its kernel asked."""

import ast
import contextlib
import json
import os
import secrets
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import nbformat
from jupyter_client import BlockingKernelClient

START_S, ANSWER_S = 90.0, 20.0  # for the server to come up; for a kernel or a page to answer. A hang must end in words.


def wait_until(what, condition, limit_s=ANSWER_S, every_s=0.1):
    """Poll until `condition()` gives something true, and give that."""
    end = time.monotonic() + limit_s
    while True:
        found = condition()
        if found:
            return found
        assert time.monotonic() < end, f"waited {limit_s:.0f} s for {what}"
        time.sleep(every_s)


def _settings(folder):
    """No news, no updates, and no cells that leave the page when they are out of sight."""
    for name, content in (
        ("apputils-extension/notification", {"fetchNews": "false", "checkForUpdates": False}),
        ("notebook-extension/tracker", {"windowingMode": "none", "autoStartDefaultKernel": True}),
    ):
        path = folder / "@jupyterlab" / f"{name}.jupyterlab-settings"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(content))


class Lab:
    """A server over a folder, with everything it keeps inside that folder; use it in a `with`."""

    def __init__(self, folder):
        self.folder = Path(folder)
        self.token = secrets.token_hex(16)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self.log = self.folder / "server.log"

    def __enter__(self):
        own = self.folder / "jupyter"
        _settings(own / "settings")
        places = {
            "JUPYTER_CONFIG_DIR": "config",
            "JUPYTER_DATA_DIR": "data",
            "JUPYTER_RUNTIME_DIR": "runtime",
            "JUPYTERLAB_SETTINGS_DIR": "settings",
            "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
            "IPYTHONDIR": "ipython",
        }
        env = {**os.environ, **{name: str(own / part) for name, part in places.items()}}
        env.pop("MPLBACKEND", None)  # as a user starts it
        (self.folder / "notebooks").mkdir(parents=True, exist_ok=True)
        command = [
            sys.executable,
            "-m",
            "jupyterlab",
            "--no-browser",
            "--ip=127.0.0.1",
            f"--port={self.port}",
            "--ServerApp.port_retries=0",
            f"--ServerApp.root_dir={self.folder / 'notebooks'}",
            f"--IdentityProvider.token={self.token}",
            "--LabApp.expose_app_in_browser=True",
            *(["--allow-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []),
        ]
        with open(self.log, "wb") as log:
            self.server = subprocess.Popen(command, env=env, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        try:
            wait_until("JupyterLab to answer", self._answers, START_S)
        except BaseException:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_):
        self.server.terminate()  # ends its kernels too
        try:
            self.server.wait(20)
        except subprocess.TimeoutExpired:
            self.server.kill()
            self.server.wait(20)

    def get(self, path):
        """What the server's interface says."""
        asked = urllib.request.Request(f"{self.url}{path}", headers={"Authorization": f"token {self.token}"})
        with urllib.request.urlopen(asked, timeout=10) as answer:
            return json.load(answer)

    def _answers(self):
        assert self.server.poll() is None, f"JupyterLab ended at once:\n{self.log.read_text()[-3000:]}"
        try:
            return self.get("/api/status")
        except (urllib.error.URLError, OSError):
            return None

    def write_notebook(self, name, cells):
        """A notebook of code cells beside the server's others."""
        notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell) for cell in cells])
        notebook.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}
        nbformat.write(notebook, self.folder / "notebooks" / name)

    def open_and_run(self, page, name):
        """Open a notebook in the browser and run all of its cells; give a client of its kernel."""
        page.goto(f"{self.url}/doc/tree/{name}?token={self.token}", timeout=1000 * START_S)
        page.locator(".jp-Notebook .jp-Cell").first.wait_for(timeout=1000 * START_S)
        sessions = wait_until("the notebook's kernel", lambda: [s for s in self.get("/api/sessions") if s["kernel"]])
        kernel = Kernel(self.folder / "jupyter" / "runtime" / f"kernel-{sessions[0]['kernel']['id']}.json")
        wait_until("the kernel to be idle", lambda: self.get("/api/sessions")[0]["kernel"]["execution_state"] == "idle")
        page.evaluate("window.jupyterapp.commands.execute('notebook:run-all-cells')")
        return kernel


class Kernel:
    """Asks a running kernel for values, beside the browser."""

    def __init__(self, connection_file):
        wait_until("the kernel's connection", connection_file.exists)
        self.client = BlockingKernelClient(connection_file=str(connection_file))
        self.client.load_connection_file()
        self.client.start_channels()
        self.client.wait_for_ready(timeout=ANSWER_S)

    def ask(self, expression):
        """The value of an expression of plain values."""
        sent = self.client.execute("", silent=True, user_expressions={"value": f"({expression})"})
        end = time.monotonic() + ANSWER_S
        while True:
            reply = self.client.get_shell_msg(timeout=max(end - time.monotonic(), 0.1))
            if reply["parent_header"].get("msg_id") == sent:
                break
        said = reply["content"]["user_expressions"]["value"]
        assert said["status"] == "ok", f"{expression}: {said.get('ename')}: {said.get('evalue')}"
        return ast.literal_eval(said["data"]["text/plain"])

    def until(self, expression, limit_s=ANSWER_S):
        """Poll an expression until it is true, and give it."""
        return wait_until(expression, lambda: self.ask(expression), limit_s)

    def close(self):
        with contextlib.suppress(RuntimeError):
            self.client.stop_channels()


class Picture:
    """A widget's picture in the page: places on its axes become places of the mouse."""

    def __init__(self, page, kernel, output, live, axes):
        self.page, self.kernel, self.live, self.axes = page, kernel, live, axes
        self.canvas = output.locator(".jupyter-matplotlib-canvas-div")

    def place(self, x, y):
        """Where on the page a place on the axes is now."""
        ahead = f"{self.axes}.transData.transform(({x!r}, {y!r}))"
        across, up = self.kernel.ask(f"[float(v) / {self.live}.canvas.device_pixel_ratio for v in {ahead}]")
        high = self.kernel.ask(f"float({self.live}.figure.bbox.height / {self.live}.canvas.device_pixel_ratio)")
        box = self.canvas.bounding_box()
        return round(box["x"] + across), round(box["y"] + high - up)  # a mouse stands on whole pixels

    def show(self):
        """Bring it into view and wait until its size is the kernel's."""
        self.canvas.scroll_into_view_if_needed()
        wide = self.kernel.ask(f"float({self.live}.figure.bbox.width / {self.live}.canvas.device_pixel_ratio)")
        wait_until("the picture's size", lambda: abs(self.canvas.bounding_box()["width"] - wide) < 2)

    def drag(self, *places, steps=8):
        self.show()
        first, *rest = [self.place(*p) for p in places]
        self.page.mouse.move(*first)
        self.page.mouse.down()
        for there in rest:
            self.page.mouse.move(*there, steps=steps)
        self.page.mouse.up()

    def click(self, *places):
        self.show()
        for p in places:
            self.page.mouse.click(*self.place(*p))

    def keys(self, *names):
        self.canvas.focus()
        for name in names:
            self.page.keyboard.press(name)
