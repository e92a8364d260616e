/** Lists looked up by order: the two bisections of the server's library, and a checked index. */

/** Give the item at an index; a hole is an error, never undefined. */
export function nth<T>(items: readonly T[], i: number): T {
  const item = items[i];
  if (item === undefined) throw new RangeError(`no item ${i} of ${items.length}`);
  return item;
}

/** Give the last item. */
export function last<T>(items: readonly T[]): T {
  return nth(items, items.length - 1);
}

/** Give how many items are below a value, of `length` items that rise. */
export function bisectLeft(length: number, value: number, item: (i: number) => number): number {
  let low = 0;
  let high = length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (item(middle) < value) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Give how many items are not above a value, of `length` items that rise. */
export function bisectRight(length: number, value: number, item: (i: number) => number): number {
  let low = 0;
  let high = length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (value < item(middle)) high = middle;
    else low = middle + 1;
  }
  return low;
}
