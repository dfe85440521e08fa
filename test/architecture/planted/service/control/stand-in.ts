export interface Planted {
  readonly isPlanted: boolean;
}
