/** Begins the dashboard in the browser. */
import { render } from "preact";
import { App } from "./app.tsx";

const page = document.getElementById("page");
if (page !== null) {
  page.replaceChildren();
  render(<App />, page);
}
