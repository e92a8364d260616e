/** My mail address: typed, then shown to be mine by a code. */
import { useState } from "preact/hooks";
import { TextField, Tick } from "../../parts/fields.tsx";
import { confirmMail, giveMail } from "../../store/addresses.ts";
import { say } from "../../words/index.ts";
import { type OneAddress, Standing, wrongInWords } from "./addresses.tsx";
import { ringMeBy } from "./scope.ts";

export function MailAddress({ own, again }: OneAddress) {
  const waits = own !== undefined && !own.usable && !own.trouble;
  return (
    <>
      <Standing own={own} again={again}>
        {say(own?.usable ? "reach.mail_on" : "reach.mail_waits", { address: own?.target ?? "" })}
      </Standing>
      {waits && <Code again={again} />}
      <Give key={own?.target} own={own} again={again} />
    </>
  );
}

function Give({ own, again }: OneAddress) {
  const [address, setAddress] = useState(own?.target ?? "");
  const [with_calendar, setWith] = useState(own?.with_calendar ?? false);
  const [wrong, setWrong] = useState("");
  const known = own?.usable === true && own.target === address.trim();
  const send = async (event: Event) => {
    event.preventDefault();
    try {
      await giveMail(address.trim(), with_calendar);
      setWrong("");
      await again();
    } catch (error) {
      setWrong(wrongInWords(error));
    }
  };
  return (
    <form class="form" noValidate onSubmit={send}>
      <TextField
        type="email"
        label={say("reach.address")}
        value={address}
        onInput={setAddress}
        most={254}
        autocomplete="email"
        wrong={wrong || undefined}
        testid="reach-address"
      />
      <Tick
        label={say("reach.with_calendar")}
        checked={with_calendar}
        onTick={setWith}
        testid="reach-with-calendar"
      />
      <button type="submit" class="button" data-testid="reach-send">
        {say(known ? "go.save" : own && !own.usable ? "reach.code_again" : "reach.code_send")}
      </button>
    </form>
  );
}

function Code({ again }: { again: () => Promise<void> }) {
  const [code, setCode] = useState("");
  const [wrong, setWrong] = useState("");
  const confirm = async (event: Event) => {
    event.preventDefault();
    try {
      await confirmMail(code.trim());
      ringMeBy("by_mail");
      await again();
    } catch (error) {
      setWrong(wrongInWords(error));
    }
  };
  return (
    <form class="form" noValidate onSubmit={confirm}>
      <TextField
        label={say("reach.code")}
        value={code}
        onInput={setCode}
        most={20}
        numeric
        autocomplete="one-time-code"
        wrong={wrong || undefined}
        testid="reach-code"
      />
      <button type="submit" class="button button-main" data-testid="reach-confirm">
        {say("reach.confirm")}
      </button>
    </form>
  );
}
