/** Where text goes: `process.stdout` fits, and so does anything that collects it. */
export interface CommandStream {
  write(text: string): unknown;
  readonly isTTY?: boolean;
  /** False once the reader is gone. */
  readonly writable?: boolean;
  /** Only streams that say when they can take more. */
  once?(event: "drain" | "close" | "error", listener: () => void): unknown;
}

/** What a command reads and writes. */
export interface CommandStreams {
  readonly stdout: CommandStream;
  readonly stderr: CommandStream;
  /** Read when the file is "-". */
  readonly stdin?: AsyncIterable<Uint8Array | string>;
}
