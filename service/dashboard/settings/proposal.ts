/** Changes of the settings that a person has written but not applied. */
import { useState } from "preact/hooks";
import type { CheckView } from "../../settings-desk.ts";
import type { Session } from "../session/session.ts";

/** By key; null: it is taken out. */
export type Changes = ReadonlyMap<string, string | null>;

/** From another page, to be taken up once as if they had been written here. */
export interface HandedOver {
  readonly changes: Changes;
  readonly take: () => void;
}

export interface Proposal {
  readonly changes: Changes;
  /** What was said of them; null: not checked. */
  readonly check: CheckView | null;
  readonly isBusy: boolean;
  /** What came of the last press. */
  readonly said: string;
  readonly set: (key: string, value: string | null) => void;
  readonly drop: (key: string) => void;
  readonly askCheck: () => void;
  readonly apply: () => void;
  readonly undo: () => void;
}

export function useProposal(of: {
  readonly session: Session;
  readonly fingerprint: string;
  /** To begin with. */
  readonly given: Changes;
  /** The file is another one now. */
  readonly whenApplied: () => void;
}): Proposal {
  const { session, fingerprint, given, whenApplied } = of;
  const [changes, setChanges] = useState<Changes>(given);
  const [check, setCheck] = useState<CheckView | null>(null);
  const [isBusy, setBusy] = useState(false);
  const [said, setSaid] = useState("");
  const change = (next: Changes): void => {
    setChanges(next);
    setCheck(null);
    setSaid("");
  };
  const busy = async (work: () => Promise<string>): Promise<void> => {
    setBusy(true);
    setSaid(await work());
    setBusy(false);
  };
  const proposed = () => ({
    fingerprint,
    changes: [...changes].map(([key, value]) => ({ key, value })),
  });
  const applied = async (
    path: "/api/settings/apply" | "/api/settings/undo",
    words: string,
  ): Promise<string> => {
    const answer = await session.write(path, path.endsWith("undo") ? {} : proposed());
    if ("refusal" in answer) return answer.refusal;
    change(new Map());
    whenApplied();
    const { needsRestart, warnings } = answer.value;
    const later = needsRestart.map((section) => `${section}: only from the next start on.`);
    return [words, ...warnings, ...later].join(" ");
  };
  return {
    changes,
    check,
    isBusy,
    said,
    set: (key, value) => change(new Map([...changes, [key, value]])),
    drop: (key) => change(new Map([...changes].filter(([other]) => other !== key))),
    askCheck: () =>
      void busy(async () => {
        const answer = await session.write("/api/settings/check", proposed());
        setCheck("refusal" in answer ? null : answer.value);
        return "refusal" in answer ? answer.refusal : "";
      }),
    apply: () => void busy(() => applied("/api/settings/apply", "The new settings are in force.")),
    undo: () => void busy(() => applied("/api/settings/undo", "The last change is taken back.")),
  };
}
