/**
 * A reader of server-sent events.
 *
 * @source WHATWG HTML Living Standard, section 9.2.6 "Interpreting an event stream", as far as the
 * service uses it: LF line ends, no byte order mark. Fields that it does not know are refused here.
 */
export interface StreamMessage {
  readonly event: string;
  readonly id: string;
  readonly data: unknown;
}

export interface StreamText {
  readonly messages: StreamMessage[];
  readonly comments: string[];
  retryMs: number | null;
}

/** @returns To be called with each piece as it comes, wherever it is cut. */
export function createStreamParser(): { push(piece: string): void } & StreamText {
  let rest = "";
  let id = "";
  let event = "";
  let data: string[] = [];
  const text: StreamText = { messages: [], comments: [], retryMs: null };

  const dispatch = (): void => {
    if (data.length > 0) text.messages.push({ event, id, data: JSON.parse(data.join("\n")) });
    event = "";
    data = [];
  };
  const take = (line: string): void => {
    if (line === "") {
      dispatch();
      return;
    }
    const [, name = "", value = ""] = /^([a-z]*):? ?(.*)$/u.exec(line) ?? [];
    if (line.startsWith(":")) text.comments.push(value);
    else if (name === "event") event = value;
    else if (name === "id") id = value;
    else if (name === "data") data.push(value);
    else if (name === "retry") text.retryMs = Number(value);
    else throw new Error(`not a field of an event stream: ${line}`);
  };

  return Object.assign(text, {
    push(piece: string) {
      const lines = (rest + piece).split("\n");
      rest = lines.pop() ?? "";
      for (const line of lines) take(line);
    },
  });
}

export interface OpenStream extends StreamText {
  readonly status: number;
  readonly headers: Headers;
  /** Resolves when the server has ended it. */
  readonly ended: Promise<void>;
  close(): void;
}

/** Reads until it is closed, over a real connection. */
export async function openStream(url: string, lastId?: string): Promise<OpenStream> {
  const abort = new AbortController();
  const headers = lastId === undefined ? {} : { "last-event-id": lastId };
  const response = await fetch(url, { headers, signal: abort.signal });
  const parser = createStreamParser();
  const read = async (): Promise<void> => {
    const decoder = new TextDecoder();
    for await (const piece of response.body ?? []) parser.push(decoder.decode(piece));
  };
  // An abort of our own ends the reading too.
  const ended = read().catch(() => undefined);
  return Object.assign(parser, {
    status: response.status,
    headers: response.headers,
    ended,
    close: () => abort.abort(),
  });
}
