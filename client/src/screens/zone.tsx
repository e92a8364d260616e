/** A zone: made, changed, put under another, given its twin. `#/zone/new` and `#/zone/<id>`. */
import { useState } from "preact/hooks";
import { GROUNDS } from "../clocks/compatibility_table.ts";
import { useEdit } from "../parts/edit.ts";
import { Clash, NumberField, Pick, readNumbers, TextField } from "../parts/fields.tsx";
import { Gone } from "../parts/gone.tsx";
import { amount, flag, isOwner, item, text, zoneLabel } from "../parts/know.ts";
import { Ask, PageHead, Slab } from "../parts/page.tsx";
import { Records } from "../parts/records.tsx";
import { recordsOn } from "../parts/recordsof.ts";
import { back, go } from "../parts/router.ts";
import { attempt } from "../parts/said.tsx";
import { createZone, drop, setFields } from "../store/acts/index.ts";
import { type ItemRow, view } from "../store/view.ts";
import { typed } from "../words/dates.ts";
import { say, sayOf } from "../words/index.ts";

export function ZoneScreen({ path }: { path: string[] }) {
  const [id = "new"] = path;
  const zone = item("zone", id);
  return (
    <>
      <PageHead title={zone ? text(zone, "name") : say("work.add_zone")} otherwise={["work"]} />
      {zone && flag(zone, "gone") ? (
        <Gone row={zone} />
      ) : (
        <ZoneForm zone={zone} key={zone?.id ?? "new"} />
      )}
      {zone && <ZoneRecords id={zone.id} />}
    </>
  );
}

/** What was logged on the zone itself, and on none of its jobs. */
function ZoneRecords({ id }: { id: string }) {
  const rows = recordsOn(({ body }) => body.zone_id === id && !body.step_id && !body.job_id);
  if (rows.length === 0) return null;
  return (
    <Slab title={say("job.records")} testid="records">
      <Records rows={rows} />
    </Slab>
  );
}

/** Zones that one may be put under: not itself and nothing that lies in it. */
function hosts(zone: ItemRow | undefined): ItemRow[] {
  const inside = (row: ItemRow | undefined, depth = 0): boolean =>
    row !== undefined &&
    depth < 20 &&
    (row.id === zone?.id || inside(item("zone", text(row, "parent_id")), depth + 1));
  return view.value.items("zone").filter((row) => !zone || !inside(row));
}

export function ZoneForm({ zone }: { zone: ItemRow | undefined }) {
  const [name, setName] = useState(text(zone, "name"));
  const [parent, setParent] = useState(text(zone, "parent_id"));
  const [twin, setTwin] = useState(text(zone, "twin_id"));
  const size = amount(zone, "area_m2");
  const [area, setArea] = useState(typed(size));
  const [ground, setGround] = useState(text(zone, "ground"));
  const [missing, setMissing] = useState(false);
  const [asking, setAsking] = useState(false);
  const read = readNumbers({ area: { text: area, least: 0, most: 10_000 } });
  const others = view.value.items("zone").filter((row) => row.id !== zone?.id);
  const fields = {
    name: name.trim(),
    parent_id: parent || null,
    twin_id: twin || null,
    area_m2: read.values.area ?? null,
    ground: ground || null,
  };
  const was = text(zone, "twin_id");
  const { clash, save: saveFields } = useEdit(zone, fields);
  const save = async () => {
    setMissing(!name.trim());
    if (!name.trim() || !read.good) return;
    const done = zone
      ? (await saveFields()) && (await attempt(() => tellTwins(zone.id, was, twin), ""))
      : await attempt(() => createZone(fields), say("said.saved"));
    if (done) back("work");
  };
  const options = (rows: ItemRow[]) =>
    rows.map((row) => ({ value: row.id, label: zoneLabel(row.id) }));
  return (
    <form
      class="form narrow"
      onSubmit={(event) => {
        event.preventDefault();
        save();
      }}
    >
      <TextField
        label={say("zone.name")}
        hint={say("zone.name_hint")}
        value={name}
        onInput={setName}
        wrong={missing ? say("problem.missing") : undefined}
        testid="zone-name"
      />
      <Pick
        label={say("zone.parent")}
        value={parent}
        options={options(hosts(zone))}
        none={say("go.none")}
        onPick={setParent}
      />
      <Pick
        label={say("zone.twin")}
        value={twin}
        options={options(others)}
        none={say("go.none")}
        onPick={setTwin}
        testid="zone-twin"
      />
      <NumberField
        label={say("zone.area")}
        value={area}
        onInput={setArea}
        unit={say("unit.m2")}
        wrong={read.wrong.area}
      />
      <Pick
        label={say("zone.ground")}
        hint={say("zone.ground_hint")}
        value={ground}
        options={GROUNDS.map((value) => ({ value, label: sayOf("ground", value) }))}
        none={say(parent ? "zone.ground_of_whole" : "zone.ground_none")}
        onPick={setGround}
        testid="zone-ground"
      />
      <Clash words={clash} />
      <button type="submit" class="button button-main" data-testid="save">
        {say("go.save")}
      </button>
      {zone && isOwner() && !asking && (
        <button type="button" class="button button-line" onClick={() => setAsking(true)}>
          {say("go.drop")}
        </button>
      )}
      {zone && asking && (
        <Ask
          question={say("zone.drop_sure")}
          yes={say("go.drop")}
          onYes={async () => {
            if (await attempt(() => drop("zone", zone.id), say("said.dropped"))) go("work");
          }}
          onNo={() => setAsking(false)}
        />
      )}
    </form>
  );
}

/** Twins name each other, so that both are told. */
async function tellTwins(id: string, was: string, twin: string): Promise<void> {
  if (twin === was) return;
  if (was && text(item("zone", was), "twin_id") === id)
    await setFields("zone", was, { twin_id: null });
  if (twin) await setFields("zone", twin, { twin_id: id });
}
