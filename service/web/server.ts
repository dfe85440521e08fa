/** Listens for the app, and closes it. */
import type { WebSettings } from "../../config/site-settings.ts";
import { systemClock } from "../clock.ts";
import { UserError } from "../errors.ts";
import type { Log } from "../log.ts";
import { createApp } from "./app.ts";
import { loadToken } from "./auth.ts";
import type { WebSource } from "./source.ts";

export interface WebServer {
  readonly address: { readonly host: string; readonly port: number };
  close(): Promise<void>;
}

/** @throws UserError if the port is taken or the token file can't be had. */
export async function startWebServer(options: {
  readonly settings: WebSettings;
  readonly source: WebSource;
  readonly log: Log;
}): Promise<WebServer> {
  const { settings, source, log } = options;
  const token = await loadToken(settings.tokenFile);
  const app = createApp({ source, token, settings, clock: systemClock, log });
  try {
    await app.listen({ host: settings.host, port: settings.port });
  } catch (error) {
    await app.close();
    throw listenError(settings, error);
  }
  const bound = app.server.address();
  const port = typeof bound === "object" && bound !== null ? bound.port : settings.port;
  log.info({ host: settings.host, port }, "web server listens");
  return {
    address: { host: settings.host, port },
    close: async () => {
      await app.close();
    },
  };
}

function listenError({ host, port }: WebSettings, error: unknown): UserError {
  return new UserError([
    {
      code: "web-address",
      where: `${host}:${String(port)}`,
      key: "web.port",
      found: error instanceof Error ? error.message : String(error),
      expected: "an address of this machine and a free port",
    },
  ]);
}
