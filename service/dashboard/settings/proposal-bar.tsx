/** What a person has changed: checked, shown line by line, applied, taken back. */
import type { SettingsView } from "../../settings-desk.ts";
import type { Proposal } from "./proposal.ts";

interface Props {
  readonly view: SettingsView;
  readonly proposal: Proposal;
}

export function ProposalBar({ view, proposal }: Props) {
  const { changes, check, isBusy, said } = proposal;
  if (!view.isEditable) return null;
  const count = changes.size;
  return (
    <section class="card proposal" aria-label="Changes">
      <p>{count === 0 ? "Nothing changed." : `${String(count)} changed, not applied.`}</p>
      <div class="filter">
        <button type="button" disabled={isBusy || count === 0} onClick={proposal.askCheck}>
          Check
        </button>
        <button
          type="button"
          disabled={isBusy || check === null || check.problems.length > 0}
          onClick={proposal.apply}
        >
          Apply
        </button>
        <button type="button" disabled={isBusy || !view.canUndo} onClick={proposal.undo}>
          Undo the last change
        </button>
      </div>
      <p role="status">{said}</p>
      {check === null ? null : <CheckResult check={check} />}
    </section>
  );
}

const SIGNS = { same: " ", removed: "−", added: "+" } as const;

function CheckResult({ check }: { readonly check: NonNullable<Proposal["check"]> }) {
  return (
    <>
      {check.problems.map((problem) => (
        <pre key={problem} class="alert alarm">
          {problem}
        </pre>
      ))}
      {check.warnings.map((warning) => (
        <p key={warning} class="alert">
          {warning}
        </p>
      ))}
      <pre class="diff" aria-label="What changes in the file" role="region" tabIndex={0}>
        {check.diff.map(({ change, text }, index) => (
          <span key={index} class={change}>
            {`${SIGNS[change]} ${text}\n`}
          </span>
        ))}
      </pre>
    </>
  );
}
