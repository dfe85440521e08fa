/** How the page names what a start at some time would be. */
import type { CostView } from "../../guidance-view.ts";

export type Grade = CostView["grade"];

export const GRADE_LETTERS: Readonly<Record<Grade, string>> = {
  good: "G",
  "so-so": "S",
  costly: "C",
  closed: "–",
};

export const GRADE_MEANINGS: Readonly<Record<Grade, string>> = {
  good: "even a dull sky leaves the night its reserve, and most comes straight from the sources",
  "so-so": "it should do, but a dull sky would cost the reserve, or it comes out of the battery",
  costly: "it would cost the night reserve",
  closed: "outside its hours, or more than the inverter carries",
};
