/** Signing in with the service's token; what is typed goes to this service alone. */
import { useState } from "preact/hooks";
import type { Session } from "./session.ts";

interface Props {
  readonly session: Session;
  readonly onDone: () => void;
}

export function SignIn({ session, onDone }: Props) {
  const [refusal, setRefusal] = useState<string | null>(null);
  const [isBusy, setBusy] = useState(false);
  const submit = (event: SubmitEvent): void => {
    event.preventDefault();
    const form = event.currentTarget;
    if (!(form instanceof HTMLFormElement)) return;
    const token = new FormData(form).get("token");
    setBusy(true);
    void session.signIn(typeof token === "string" ? token.trim() : "").then((why) => {
      setBusy(false);
      setRefusal(why);
      if (why === null) onDone();
    });
  };
  return (
    <form class="sign-in card" onSubmit={submit}>
      <label>
        Token
        <input
          name="token"
          type="password"
          autocomplete="current-password"
          required
          aria-describedby="token-help"
        />
      </label>
      <p id="token-help" class="hint">
        The text in the service's token file, which it made at its first start beside the settings (
        <code>web.tokenFile</code>).
      </p>
      <button type="submit" disabled={isBusy}>
        Sign in
      </button>
      <p role="alert" class="refusal">
        {refusal}
      </p>
    </form>
  );
}

/** At the end of the masthead: in, or out. */
export function SignInButton({ session }: { readonly session: Session }) {
  const [isOpen, setOpen] = useState(false);
  if (session.isSignedIn === null) return null;
  if (session.isSignedIn) {
    return (
      <button type="button" class="quiet" onClick={() => session.signOut()}>
        Sign out
      </button>
    );
  }
  return (
    <>
      <button
        type="button"
        class="quiet"
        aria-expanded={isOpen}
        onClick={() => setOpen((wasOpen) => !wasOpen)}
      >
        Sign in
      </button>
      {isOpen ? <SignIn session={session} onDone={() => setOpen(false)} /> : null}
    </>
  );
}
