/** The crew: made by the server, so these need a connection. */
import { call } from "../http.ts";
import type { Json, Problem } from "../types.ts";

export interface InviteBody {
  role: "owner" | "hand" | "viewer";
  name: string;
  language: string;
  /** An existing member who gets another device. */
  member_id?: string;
  days?: number;
}

export interface Invitation {
  invite_id: string;
  member_id: string;
  token: string;
  link: string;
  qr_svg: string;
  expires_at: string;
}

/** Make an invitation. Throws ProblemError or OfflineError. */
export function invite(body: InviteBody): Promise<Invitation> {
  return call<Invitation>("POST", "invites", body);
}

/** Take a device's key away. Throws ProblemError or OfflineError. */
export async function revokeDevice(device_id: string): Promise<void> {
  await call<null>("DELETE", `devices/${device_id}`);
}

/** How far a device came, and a page of what it sent, newest first. */
export interface DeviceSent {
  device_id: string;
  member_id: string;
  last_n: number;
  last_received_at: string | null;
  /** Numbers that were lost with a restored server, and that the device no longer had. */
  missing: { from: number; to: number }[];
  operations: { n: number; at: string; act: string; actions: Json[]; problem: Problem | null }[];
  more: boolean;
}

/** Ask what a device has sent, of the operations before a number if one is given. Throws ProblemError or OfflineError. */
export function sentByDevice(device_id: string, before?: number): Promise<DeviceSent> {
  const from = before === undefined ? "" : `?before=${before}`;
  return call<DeviceSent>("GET", `devices/${device_id}/sent${from}`);
}
