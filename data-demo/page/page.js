// The page: takes a file and prices, lets a worker analyse them, and shows what comes back. All text from the file is set as text.
const $ = (id) => document.getElementById(id);
const state = { text: null, name: "", worker: null, result: null };

/** Text of a file's bytes: UTF-8, UTF-16 with its mark or, when the bytes are neither, Windows-1252. */
function decode(bytes) {
  const mark = bytes.subarray(0, 2).join();
  if (mark === "255,254") return new TextDecoder("utf-16le").decode(bytes);
  if (mark === "254,255") return new TextDecoder("utf-16be").decode(bytes);
  try {
    return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    return new TextDecoder("windows-1252").decode(bytes);
  }
}

async function take(file) {
  if (!file) return;
  if (file.size > 64 * 1024 * 1024) return say(`${file.name} is larger than 64 MB.`);
  state.name = file.name;
  state.text = decode(new Uint8Array(await file.arrayBuffer()));
  run();
}

function say(text) {
  $("status").textContent = text;
}

/** Analyses anew; a run that is under way is given up. */
function run() {
  if (state.text === null || !$("form").reportValidity()) return;
  state.worker?.terminate();
  const worker = new Worker("worker.js", { type: "module" });
  state.worker = worker;
  say(`Reading ${state.name} …`);
  $("progress").hidden = false;
  $("progress").value = 0;
  worker.onmessage = ({ data }) => {
    if (worker !== state.worker) return;
    if (data.kind === "progress") {
      $("progress").value = data.done / data.total;
      say(`${data.what} …`);
    } else finish(data);
  };
  worker.onerror = (event) => {
    $("progress").hidden = true;
    say(`The analysis failed: ${event.message ?? "unknown reason"}`);
  };
  worker.postMessage({
    text: state.text,
    prices: { grainPrice: Number($("grain").value), seedCostPerThousand: Number($("seed").value) },
    currency: $("currency").value.trim(),
  });
}

function finish(data) {
  $("progress").hidden = true;
  state.worker.terminate();
  state.worker = null;
  $("problems").hidden = data.issues.length === 0;
  $("issues").replaceChildren(
    ...data.issues.map(({ severity, message }) => {
      const item = document.createElement("li");
      const kind = document.createElement("strong");
      kind.textContent = `${severity}: `;
      item.append(kind, message);
      return item;
    }),
  );
  if (data.kind === "failed") {
    $("result").hidden = true;
    state.result = null;
    return say(data.reason);
  }
  state.result = data;
  const before = $("hybrid").value;
  $("hybrid").replaceChildren(...data.charts.map(({ hybrid }) => new Option(hybrid, hybrid)));
  if (data.charts.some(({ hybrid }) => hybrid === before)) $("hybrid").value = before;
  drawChosen();
  $("report").srcdoc = data.html;
  $("result").hidden = false;
  say(`${state.name}: ${data.summary}`);
}

function drawChosen() {
  const chosen = state.result?.charts.find(({ hybrid }) => hybrid === $("hybrid").value);
  if (!chosen) return;
  $("chart").alt = chosen.alt;
  $("chart").src = chosen.address;
}

const kinds = { html: ["report.html", "text/html"], json: ["analysis.json", "application/json"], csv: ["estimates.csv", "text/csv"] };

function download(kind) {
  if (!state.result) return;
  const [name, type] = kinds[kind];
  const url = URL.createObjectURL(new Blob([state.result[kind]], { type }));
  const link = Object.assign(document.createElement("a"), { href: url, download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}

$("file").addEventListener("change", () => take($("file").files[0]));
$("example").addEventListener("click", () => {
  state.name = "the example";
  state.text = EXAMPLE;
  run();
});
for (const id of ["grain", "seed", "currency"]) $(id).addEventListener("change", run);
$("form").addEventListener("submit", (event) => event.preventDefault());
$("hybrid").addEventListener("change", drawChosen);
for (const button of document.querySelectorAll("[data-download]")) {
  button.addEventListener("click", () => download(button.dataset.download));
}
const drop = $("drop");
for (const name of ["dragenter", "dragover"]) {
  drop.addEventListener(name, (event) => {
    event.preventDefault();
    drop.classList.add("over");
  });
}
for (const name of ["dragleave", "drop"]) drop.addEventListener(name, () => drop.classList.remove("over"));
drop.addEventListener("drop", (event) => {
  event.preventDefault();
  take(event.dataTransfer.files[0]);
});
