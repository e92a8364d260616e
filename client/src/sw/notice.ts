/** What a notification shows and carries: the same whether the page or the worker shows it. */

export interface Alarm {
  alarm_id: string;
  kind?: string;
  title?: string;
  body?: string;
  due_at?: string;
  lang?: string;
  url?: string;
  /** It holds no longer: takes the place of what was shown, in silence. */
  withdrawn?: boolean;
  params?: Record<string, unknown>;
}

/**
 * What a person may answer on the notification itself, the most useful first: phones show two. A tap on the notification
 * leads to all of them.
 */
export type Answer = "seen" | "snooze" | "done";
const ANSWERS: readonly Answer[] = ["seen", "snooze", "done"];
export const isAnswer = (action: string): action is Answer => ANSWERS.includes(action as Answer);

/** What lists alarms that were missed, and what tells of a new plan, is not put off, nor done: it is seen. */
const NOTICES: ReadonlySet<string> = new Set(["missed_alarms", "plan_changed"]);

/** The page where everything can be answered that the notification has no room for. */
export const placeOf = (alarm: Alarm): string =>
  NOTICES.has(alarm.kind ?? "") || isWithdrawn(alarm)
    ? (alarm.url ?? "/#/now")
    : `/#/alarms/answer/${encodeURIComponent(alarm.alarm_id)}`;

export const isWithdrawn = ({ withdrawn, params }: Alarm): boolean =>
  withdrawn === true || params?.withdrawn !== undefined;

/** Put in by the build of the worker; the page shows notices with the icon of the manifest. */
declare const ICON: string;
const icon = typeof ICON === "undefined" ? {} : { icon: ICON, badge: ICON };

interface Texts extends Record<Answer, string> {
  title: string;
  body: string;
  off: string;
  off_body: string;
}

/** The worker has no words of its own but these: for a message that came without any. */
const TEXTS: Record<string, Texts> = {
  en: {
    title: "A clock rings",
    body: "Open Tackwatch to see which coat or pot it is.",
    seen: "Seen",
    snooze: "In 10 min",
    done: "Done",
    off: "No longer needed",
    off_body: "What this phone said does not hold any more. There is nothing to do.",
  },
  es: {
    title: "Suena un reloj",
    body: "Abre Tackwatch para ver qué capa o mezcla es.",
    seen: "Visto",
    snooze: "En 10 min",
    done: "Hecho",
    off: "Ya no hace falta",
    off_body: "Lo que este teléfono avisó ya no vale. No hay nada que hacer.",
  },
};

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
  if (isWithdrawn(alarm)) return takenBack(alarm, lang, texts);
  const loud = silent ? { silent: true } : { renotify: true, vibrate: VIBRATION };
  return [
    alarm.title || texts.title,
    {
      body: alarm.body || texts.body,
      lang,
      tag: alarm.alarm_id,
      data: { alarm_id: alarm.alarm_id, url: placeOf(alarm) },
      ...icon,
      requireInteraction: true,
      actions: answersTo(alarm).map((action) => ({ action, title: texts[action] })),
      ...loud,
    },
  ];
}

const answersTo = ({ kind }: Alarm): readonly Answer[] =>
  NOTICES.has(kind ?? "") ? ["seen"] : ANSWERS;

/** A push that shows nothing is resented by browsers: what is taken back is replaced, not closed. */
function takenBack(alarm: Alarm, lang: string, texts: Texts): [string, NoticeOptions] {
  const { alarm_id } = alarm;
  const data = { alarm_id, url: alarm.url ?? "/#/now" };
  const body = alarm.body || texts.off_body;
  return [alarm.title || texts.off, { body, lang, tag: alarm_id, data, ...icon, silent: true }];
}
