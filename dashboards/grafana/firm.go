//lint:file-ignore SA1019 the older model of a dashboard is the one that every Grafana in use imports

package grafana

import (
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"

	"brinebell/detect"
)

// firmGroups are the panels of many homes at once.
func firmGroups() []group {
	return []group{
		{"Who needs what", []panel{
			{title: "Salt left, least first", unit: millimetre, look: rows, width: 8, about: "Newest level of the salt at each home.",
				queries: []query{newestTable(detect.SaltLevel)}},
			{title: "Brine, lowest first", unit: millimetre, look: rows, width: 8, about: "Newest level of the brine at each home.",
				queries: []query{newestTable(detect.BrineLevel)}},
			{title: "Batteries, emptiest first", unit: percent, look: rows, width: 8, about: "Newest charge of each home's sensor.",
				queries: []query{newestTable(detect.Battery)}},
			{title: "Last heard, longest ago first", look: rows, width: 12, about: "Newest reading of a home's main meter. Household and firm are told of silence by Brinebell itself.",
				queries: []query{{text: `from(bucket: "${bucket}")
  |> range(start: v.timeRangeStart, stop: v.timeRangeStop)
  |> filter(fn: (r) => (r._measurement == "inlet_volume" or r._measurement == "inlet_flow" or r._measurement == "service_volume" or r._measurement == "service_flow") and r._field == "value" and r.home =~ /^${home:regex}$/)
  |> last()
  |> keep(columns: ["home", "_time"])
  |> group()
  |> sort(columns: ["_time"])`}}},
			{title: "Floor wet", look: rows, width: 12, about: "Homes with water on the floor within the span.",
				queries: []query{{text: of(detect.FloorWet) + `
  |> max()
  |> keep(columns: ["home", "_value"])
  |> group()
  |> sort(columns: ["_value"], desc: true)`}}},
		}},
		{"Water and salt", []panel{
			{title: "Water a day", unit: litres, look: bars, width: 12, about: "Of each home, on each day, UTC.", queries: []query{daily(detect.InletVolume)}},
			{title: "To the drain a day", unit: litres, look: bars, width: 12, about: "Of each home, on each day, UTC.", queries: []query{daily(detect.DrainVolume)}},
			{title: "Water of all, a day", unit: litres, look: bars, width: 12, about: "All homes that are chosen, on each day, UTC.",
				queries: []query{{text: daily(detect.InletVolume).text + `
  |> group(columns: ["_time"])
  |> sum()
  |> group()
  |> sort(columns: ["_time"])`}}},
			{title: "Level of the salt", unit: millimetre, look: lines, width: 12, about: "A step up is a refill.", queries: []query{mean(detect.SaltLevel)}},
		}},
	}
}

// firm is the dashboard of the homes that somebody looks after.
func firm() (dashboard.Dashboard, error) {
	b := dashboard.NewDashboardBuilder("Brinebell: homes of a firm").Uid("brinebell-firm").Tags([]string{"brinebell"}).
		Description("Many homes at once, from InfluxDB. Which homes a firm looks after Grafana does not know: choose them, and share the dashboard with that choice. For what is wrong, and whom to visit first, see Brinebell's own pages.").
		Time("now-7d", "now").Refresh("5m").Timezone("browser").Readonly().
		WithVariable(sourceVariable(fromInflux, "InfluxDB")).WithVariable(bucketVariable()).
		WithVariable(homeVariable().Label("Homes").Multi(true).IncludeAll(true))
	if err := fill(b, fromInflux, firmGroups()); err != nil {
		return dashboard.Dashboard{}, err
	}
	return b.Build()
}
