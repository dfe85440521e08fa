/** Keeps labels beside a scale apart, each as near to its height as the others allow. */

export interface Label {
  readonly key: string;
  /** Where it belongs, and where it fits. [px] */
  readonly wantedY: number;
  readonly y: number;
}

export function spreadLabels(
  wanted: readonly { readonly key: string; readonly wantedY: number }[],
  room: { readonly apart: number; readonly top: number; readonly bottom: number },
): Label[] {
  const placed: Label[] = [];
  for (const label of wanted.toSorted((a, b) => a.wantedY - b.wantedY)) {
    const least = (placed.at(-1)?.y ?? room.top - room.apart) + room.apart;
    placed.push({ ...label, y: Math.max(label.wantedY, least) });
  }
  // Whatever was pushed past the foot moves up again, and what stands over it with it.
  let most = room.bottom;
  return placed
    .toReversed()
    .map((label) => {
      const y = Math.min(label.y, most);
      most = y - room.apart;
      return { ...label, y };
    })
    .toReversed();
}
