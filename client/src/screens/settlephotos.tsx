/** Photos that the server did not take: why, and what a person can do about each. */
import { useState } from "preact/hooks";
import { Ask, Slab } from "../parts/page.tsx";
import { attempt, problemInWords } from "../parts/said.tsx";
import { letPhotoGo, sendPhotoAgain } from "../store/acts/index.ts";
import { photoUrl, refusedPhotos, type Unsent } from "../store/photos.ts";
import { say } from "../words/index.ts";

export function RefusedPhotos() {
  const photos = refusedPhotos();
  if (photos.length === 0) return null;
  return (
    <Slab title={say("photo.refused_title")} testid="photos-refused">
      {photos.map((one) => (
        <RefusedPhoto key={one.sha256} one={one} />
      ))}
    </Slab>
  );
}

function RefusedPhoto({ one }: { one: Unsent }) {
  const [asking, setAsking] = useState(false);
  const url = photoUrl(one.sha256, "small").value;
  const problem = one.problem ?? { type: "", detail: "" };
  const keeps = problem.type.endsWith(":photo-has-metadata");
  const again = () => attempt(() => sendPhotoAgain(one.sha256, keeps), say("photo.again_said"));
  return (
    <article class="matter" data-testid="photo-refused-one">
      {url && (
        <figure class="photo">
          <img src={url} alt={say("photo.refused")} />
        </figure>
      )}
      <p class="problem">{say("settle.refused_why", { why: problemInWords(problem) })}</p>
      {asking ? (
        <Ask
          question={say("photo.let_go_sure")}
          yes={say("settle.let_go")}
          testid="photo-let-go"
          onYes={() => attempt(() => letPhotoGo(one.sha256), say("said.taken_back"))}
          onNo={() => setAsking(false)}
        />
      ) : (
        <div class="buttons">
          <button type="button" class="button" onClick={again} data-testid="photo-again">
            {say(keeps ? "photo.again_with_place" : "settle.again")}
          </button>
          <button
            type="button"
            class="button"
            onClick={() => setAsking(true)}
            data-testid="photo-drop"
          >
            {say("settle.let_go")}
          </button>
        </div>
      )}
    </article>
  );
}
