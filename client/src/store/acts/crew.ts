/** The crew: made by the server, so these need a connection. */
import { call } from "../http.ts";

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
