/** Asking the browser to wake this phone for alarms while the page is closed. */
import { call, open } from "../store/http.ts";

/** Subscribe this phone and tell the server; false where the browser cannot, or will not. */
export async function subscribePush(): Promise<boolean> {
  const registration = await navigator.serviceWorker?.ready;
  if (!registration?.pushManager) return false;
  try {
    const { public_key } = await open<{ public_key: string }>("GET", "/api/push-key");
    const known = await registration.pushManager.getSubscription();
    const subscription =
      known ??
      (await registration.pushManager.subscribe({
        userVisibleOnly: true,
        applicationServerKey: bytesOf(public_key),
      }));
    const { endpoint, keys } = subscription.toJSON();
    await call<null>("PUT", "push", { endpoint, p256dh: keys?.p256dh, auth: keys?.auth });
    return true;
  } catch {
    return false;
  }
}

/** Say whether this phone is subscribed. */
export async function hasPush(): Promise<boolean> {
  const registration = await navigator.serviceWorker?.getRegistration();
  return Boolean(await registration?.pushManager?.getSubscription());
}

/** Bytes from base64url. */
export function bytesOf(text: string): Uint8Array<ArrayBuffer> {
  const signs = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  return Uint8Array.from(signs, (sign) => sign.charCodeAt(0));
}
