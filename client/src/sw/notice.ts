/** What a notification shows and carries: the same whether the page or the worker shows it. */

export interface Alarm {
  alarm_id: string;
  kind?: string;
  title?: string;
  body?: string;
  due_at?: string;
  lang?: string;
  url?: string;
}

/** Put in by the build of the worker; the page shows notices with the icon of the manifest. */
declare const ICON: string;
const icon = typeof ICON === "undefined" ? {} : { icon: ICON, badge: ICON };

interface Texts {
  title: string;
  body: string;
  seen: string;
  snooze: string;
}

/** The worker has no words of its own but these: for a message that came without any. */
const TEXTS: Record<string, Texts> = {
  en: {
    title: "A clock rings",
    body: "Open Tackwatch to see which coat or pot it is.",
    seen: "Seen",
    snooze: "In 10 min",
  },
  es: {
    title: "Suena un reloj",
    body: "Abra Tackwatch para ver qué capa o mezcla es.",
    seen: "Visto",
    snooze: "En 10 min",
  },
};

export const SNOOZE_MIN = 10;

export type NoticeOptions = NotificationOptions & {
  renotify?: boolean;
  vibrate?: number[];
  actions?: { action: string; title: string }[];
};

export const VIBRATION = [600, 200, 600, 200, 600, 200, 1200];

function textsOf(lang: string): Texts {
  return TEXTS[lang.split("-")[0] ?? ""] ?? (TEXTS.en as Texts);
}

/** The title and options of a notification; with `silent` the page rings and this only stays on the screen. */
export function noticeOf(alarm: Alarm, silent: boolean): [title: string, options: NoticeOptions] {
  const lang = alarm.lang ?? navigator.language;
  const texts = textsOf(lang);
  const loud = silent ? { silent: true } : { renotify: true, vibrate: VIBRATION };
  return [
    alarm.title || texts.title,
    {
      body: alarm.body || texts.body,
      lang,
      tag: alarm.alarm_id,
      data: { alarm_id: alarm.alarm_id, url: alarm.url ?? "/#/now" },
      ...icon,
      requireInteraction: true,
      actions: [
        { action: "seen", title: texts.seen },
        { action: "snooze", title: texts.snooze },
      ],
      ...loud,
    },
  ];
}
