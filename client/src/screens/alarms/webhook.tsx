/** A web address of my own: alarms are posted there, signed with a secret that is shown once. */
import { useState } from "preact/hooks";
import { TextField } from "../../parts/fields.tsx";
import { giveWebhook } from "../../store/addresses.ts";
import { say } from "../../words/index.ts";
import { type OneAddress, Standing, wrongInWords } from "./addresses.tsx";
import { ringMeBy } from "./scope.ts";

export function WebhookAddress({ own, again }: OneAddress) {
  const [url, setUrl] = useState(own?.target ?? "");
  const [secret, setSecret] = useState("");
  const [wrong, setWrong] = useState("");
  const give = async (event: Event) => {
    event.preventDefault();
    try {
      setSecret((await giveWebhook(url.trim())).secret);
      setWrong("");
      ringMeBy("by_webhook");
      await again();
    } catch (error) {
      setWrong(wrongInWords(error));
    }
  };
  return (
    <>
      <p class="field-hint">{say("reach.webhook_why")}</p>
      <Standing own={own} again={again}>
        {say(own?.usable ? "reach.webhook_on" : "reach.webhook_off", { url: own?.target ?? "" })}
      </Standing>
      {secret && (
        <div class="ask" data-testid="reach-secret">
          <TextField
            label={say("reach.secret")}
            value={secret}
            onInput={() => undefined}
            testid="reach-secret-text"
          />
        </div>
      )}
      <form class="form" noValidate onSubmit={give}>
        <TextField
          type="url"
          label={say("reach.url")}
          value={url}
          onInput={setUrl}
          most={2000}
          wrong={wrong || undefined}
          testid="reach-url"
        />
        <button type="submit" class="button" data-testid="reach-post">
          {say("reach.webhook_give")}
        </button>
      </form>
    </>
  );
}
