/** `bywash schema`: JSON Schemas: settings for editors, topics and results for other programs. */
import { Command, Option } from "commander";

export function schemaCommand(): Command {
  return new Command("schema")
    .description("print the JSON Schema of the settings, the MQTT topics or a result")
    .addOption(
      new Option("--of <what>", "what to describe")
        .choices(["settings", "mqtt", "replay", "journal", "bound", "tune", "learned", "report"])
        .default("settings"),
    )
    .addHelpText("after", "\nExample:\n  bywash schema > bywash.schema.json")
    .action(async ({ of }: { readonly of: string }) => {
      process.stdout.write(`${JSON.stringify(await schemaOf(of), null, 2)}\n`);
    });
}

async function schemaOf(what: string): Promise<object> {
  if (what === "mqtt") {
    const { topicsJsonSchema } = await import("../published-schemas.ts");
    return topicsJsonSchema();
  }
  if (what === "journal") {
    const { journalJsonSchema } = await import("./journal-schema.ts");
    return journalJsonSchema();
  }
  if (what === "replay") {
    const { replayJsonSchema } = await import("./replay-schema.ts");
    return replayJsonSchema();
  }
  if (what === "bound") {
    const { boundJsonSchema } = await import("./bound-report.ts");
    return boundJsonSchema();
  }
  if (what === "tune") {
    const { tuneJsonSchema } = await import("./tune-report.ts");
    return tuneJsonSchema();
  }
  if (what === "learned") {
    const { learnedJsonSchema } = await import("./learned-schema.ts");
    return learnedJsonSchema();
  }
  if (what === "report") {
    const { lookBackJsonSchema } = await import("../look-back/report-schema.ts");
    return lookBackJsonSchema();
  }
  const { settingsJsonSchema } = await import("../../config/json-schema.ts");
  return settingsJsonSchema();
}
