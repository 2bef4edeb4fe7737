import type { CommandStream } from "./streams.ts";

const PATIENCE = 500;

/** Reports work that has taken longer than half a second: one line rewritten on a terminal, a line each second elsewhere. */
export function progressLine(stream: CommandStream): {
  report(done: number, total: number, what: string): void;
  show(line: string): void;
  clear(): void;
} {
  let last = performance.now();
  let shown = false;
  const terminal = stream.isTTY === true;
  const show = (line: string): void => {
    const now = performance.now();
    if (now - last < (shown ? (terminal ? 100 : 1000) : PATIENCE)) return;
    last = now;
    shown = true;
    stream.write(terminal ? `\r\u001b[K${line.slice(0, 78)}` : `${line}\n`);
  };
  return {
    report: (done, total, what) => show(`${done} of ${total} curves: ${what}`),
    show,
    clear() {
      if (terminal && shown) stream.write("\r\u001b[K");
    },
  };
}
