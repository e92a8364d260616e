/** Where a person is told besides this phone. It lives on the server alone, and is asked for when it is looked at. */
import { OfflineError } from "./errors.ts";
import { call, fetchBytes } from "./http.ts";
import { signedIn } from "./session.ts";

export type AddressKind = "mail" | "webhook" | "calendar";

export interface Address {
  kind: AddressKind;
  target: string;
  usable: boolean;
  with_calendar: boolean;
  made_at: string;
  trouble: string;
}

/** That an owner took somebody's address away, or ended a phone's pushes. */
export interface Removal {
  kind: AddressKind | "push";
  phone_id: string | null;
  by_member_id: string;
  removed_at: string;
}

export interface Addresses {
  addresses: Address[];
  offers: AddressKind[];
  removed: Removal[];
}

/** What an owner may know of another's addresses: that they are there. */
export interface AddressesOfOther {
  addresses: { kind: AddressKind; usable: boolean; made_at: string }[];
  push_device_ids: string[];
  removed: Removal[];
}

export interface CalendarLink {
  url: string;
  webcal_url: string;
}

export const myAddresses = () => call<Addresses>("GET", "addresses");

export const giveMail = (address: string, with_calendar: boolean) =>
  call<null>("PUT", "addresses/mail", { address, with_calendar });

export const confirmMail = (code: string) => call<null>("POST", "addresses/mail/confirm", { code });

export const giveWebhook = (url: string) =>
  call<{ url: string; secret: string }>("PUT", "addresses/webhook", { url });

export const makeCalendar = () => call<CalendarLink>("POST", "addresses/calendar");

export const takeAway = (kind: AddressKind) => takeAwayFrom(signedIn().member_id, kind);

export const takeAwayFrom = (member_id: string, kind: AddressKind) =>
  call<null>("DELETE", `members/${member_id}/addresses/${kind}`);

export const addressesOf = (member_id: string) =>
  call<AddressesOfOther>("GET", `members/${member_id}/addresses`);

export const stopPushes = (device_id: string) => call<null>("DELETE", `devices/${device_id}/push`);

/** One alarm as a file for the phone's own calendar. */
export async function calendarFile(alarm_id: string): Promise<Blob> {
  const found = await fetchBytes(`alarms/${encodeURIComponent(alarm_id)}.ics`);
  if (found === null) throw new OfflineError();
  return new Blob([found.bytes], { type: found.type });
}
