"""Runs a notebook cell by cell and writes it with its outputs: run_notebook.py KERNEL IN.ipynb OUT.ipynb

Kernels may send outputs after they say that they are idle, and their first messages before anyone listens; so this waits for a first
answer and goes on listening for a moment after each cell. Exit code 1 when a cell fails.
"""
import json
import sys
import time
from queue import Empty

from jupyter_client.manager import start_new_kernel

LINGER = 0.4
TIMEOUT = 180


def run_cell(client, code):
    """Outputs of one cell in notebook format, and whether it failed."""
    wanted = client.execute(code, store_history=True)
    outputs, failed, idle, end = [], False, False, time.time() + TIMEOUT
    while time.time() < end:
        try:
            message = client.get_iopub_msg(timeout=LINGER if idle else 1)
        except Empty:
            if idle:
                return outputs, failed
            continue
        if message["parent_header"].get("msg_id") != wanted:
            continue
        kind, content = message["msg_type"], message["content"]
        if kind == "status" and content["execution_state"] == "idle":
            idle = True
        elif kind == "stream":
            outputs.append({"output_type": "stream", "name": content["name"], "text": content["text"]})
        elif kind in ("display_data", "execute_result"):
            outputs.append({"output_type": "display_data", "data": content["data"], "metadata": {}})
        elif kind == "error":
            failed = True
            outputs.append({"output_type": "error", "ename": content["ename"], "evalue": content["evalue"], "traceback": []})
    raise TimeoutError(code)


def main(kernel, source, target):
    with open(source, encoding="utf-8") as file:
        notebook = json.load(file)
    manager, client = start_new_kernel(kernel_name=kernel, startup_timeout=60)
    failed = False
    try:
        for _ in range(20):
            client.kernel_info()
            try:
                client.get_iopub_msg(timeout=0.5)
                break
            except Empty:
                continue
        number = 0
        for cell in notebook["cells"]:
            if cell["cell_type"] != "code":
                continue
            number += 1
            cell["outputs"], wrong = run_cell(client, "".join(cell["source"]))
            cell["execution_count"] = number
            if wrong:
                failed = True
                print(json.dumps(cell["outputs"]), file=sys.stderr)
                break
    finally:
        client.stop_channels()
        manager.shutdown_kernel(now=True)
    with open(target, "w", encoding="utf-8") as file:
        json.dump(notebook, file, indent=1, ensure_ascii=False)
        file.write("\n")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:4]))
