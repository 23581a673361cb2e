//! `verify.ipynb`: adds the saving up again from the table of days.

use crate::{
    report::{
        markdown::escape,
        notebook::{code, markdown, of},
    },
    verification::Verification,
};

/// The notebook's text.
pub fn write(v: &Verification) -> String {
    let name = v.plant.system.name.as_deref().unwrap_or(&v.plant.name);
    let name = escape(name);
    let timezone = v.plant.site.timezone.name();
    of(vec![
        markdown(
            "about",
            format!(
                "# A change verified: {name}\n\nOne row a day. Energy in kWh; `predicted` is what the old setting would have used. Change what you like: a later run keeps \
                 an edited notebook and writes its own beside it, as `verify.new.ipynb`.\n\nNeeds `polars` and `matplotlib`."
            ),
        ),
        code("read", format!("{IMPORTS}TIMEZONE = \"{timezone}\"\n\n{READ}")),
        markdown("key", "## The saving, added up again\n\nThe sum of predicted less used over the days compared after the change, and what verification.json says.".to_owned()),
        code("saving", SAVING.to_owned()),
        markdown("days", "## Day by day".to_owned()),
        code("by-day", BY_DAY.to_owned()),
        markdown("drivers", "## Energy over weather\n\nWhere no outdoor temperature is trended, put `load` in its place.".to_owned()),
        code("over-weather", OVER_WEATHER.to_owned()),
    ])
}

const IMPORTS: &str = "import json\n\nimport matplotlib.pyplot as plt\nimport polars as pl\n\n";
const READ: &str = r#"days = pl.read_parquet("daily.parquet").with_columns(
    pl.col("from").dt.convert_time_zone(TIMEZONE).dt.date().alias("day")
)
days.group_by("setting", "compared").len().sort("setting", "compared")"#;
const SAVING: &str = r#"after = days.filter((pl.col("setting") == "after") & pl.col("compared"))
saving = (after["predicted"] - after["energy"]).sum()
said = json.load(open("verification.json"))["saving_kwh"]
print(f"{saving:.1f} kWh here; verification.json: {said}")"#;
const BY_DAY: &str = r#"fig, ax = plt.subplots(figsize=(9, 3.5))
for setting, marker in (("before", "o"), ("after", "^")):
    rows = days.filter((pl.col("setting") == setting) & pl.col("compared"))
    ax.scatter(rows["day"], rows["energy"], s=10, marker=marker, label=f"used, {setting}")
ax.plot(days["day"], days["predicted"], color="0.3", linewidth=1, label="the old setting would have used")
ax.set_ylabel("pump energy, kWh a day")
ax.set_ylim(bottom=0)
ax.legend()
fig.autofmt_xdate()
plt.show()"#;
const OVER_WEATHER: &str = r#"fig, ax = plt.subplots(figsize=(7, 4))
for setting, marker in (("before", "o"), ("after", "^")):
    rows = days.filter((pl.col("setting") == setting) & pl.col("compared"))
    ax.scatter(rows["outdoor"], rows["energy"], s=10, marker=marker, label=setting)
ax.set_xlabel("outdoor temperature, degC")
ax.set_ylabel("pump energy, kWh a day")
ax.set_ylim(bottom=0)
ax.legend()
plt.show()"#;
