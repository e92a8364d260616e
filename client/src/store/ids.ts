/** Fresh ids of items and records. */
export const newId = (): string => crypto.randomUUID();
