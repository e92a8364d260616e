/** Where the sending, which also runs in the worker, tells a page that looks on how far a picture came. */

export interface PhotoProgress {
  sha256: string;
  sent_b: number;
  size_b: number;
}

let hear: (progress: PhotoProgress | null) => void = () => {};

export function hearPhotos(next: typeof hear): void {
  hear = next;
}

/** So much of a picture is on the server; null when none is under way. */
export const tellPhotos = (progress: PhotoProgress | null): void => hear(progress);
