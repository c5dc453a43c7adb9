//lint:file-ignore SA1019 the older model of a dashboard is the one that every Grafana in use imports

package grafana

import (
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"

	"brinebell/detect"
)

// The units of a home's panels, as Grafana names them.
const (
	flowUnit   = "flowlpm"
	litres     = "litre"
	millimetre = "lengthmm"
	kilopascal = "pressurekpa"
	watt       = "watt"
	celsius    = "celsius"
	percent    = "percent"
	hardness   = "suffix:mg/L"
	conducts   = "suffix:µS/cm"
)

// homeGroups are the panels of one home.
func homeGroups() []group {
	return []group{
		{"Water", []panel{
			{title: "Flow", unit: flowUnit, look: lines, width: 24,
				about:   "What the meters see, from their flow or from their running totals. The drain runs while the softener regenerates.",
				queries: []query{mean(detect.InletFlow), mean(detect.ServiceFlow), mean(detect.DrainFlow), rate(detect.InletVolume), rate(detect.ServiceVolume), rate(detect.DrainVolume)}},
			{title: "Water a day", unit: litres, look: bars, width: 12, about: "What the running totals rose by on each day, UTC.",
				queries: []query{daily(detect.InletVolume), daily(detect.ServiceVolume)}},
			{title: "To the drain a day", unit: litres, look: bars, width: 12, about: "What regenerations, or a valve that does not close, sent to the drain on each day, UTC.",
				queries: []query{daily(detect.DrainVolume)}},
		}},
		{"Brine tank", []panel{
			{title: "Level of the brine", unit: millimetre, look: lines, width: 12,
				about:   "Above the tank's floor, measured in the brine well. It falls while brine is drawn and rises with the refill.",
				queries: []query{mean(detect.BrineLevel)}},
			{title: "Level of the salt", unit: millimetre, look: lines, width: 12, about: "Top of the salt above the tank's floor.",
				queries: []query{mean(detect.SaltLevel)}},
		}},
		{"Valve and bed", []panel{
			{title: "Pressure before and after", unit: kilopascal, look: lines, width: 12,
				about:   "Their difference at the same flow grows when the bed clogs.",
				queries: []query{mean(detect.InletPressure), mean(detect.OutletPressure)}},
			{title: "Power of the valve", unit: watt, look: lines, width: 12, about: "What the control valve draws: more while it moves.",
				queries: []query{mean(detect.ValvePower)}},
		}},
		{"What the water is like", []panel{
			{title: "Hardness", unit: hardness, look: lines, width: 12, about: "As calcium carbonate: before the softener, at the cold tap, at the hot tap.",
				queries: []query{mean(detect.RawHardness), mean(detect.ColdHardness), mean(detect.HotHardness)}},
			{title: "Iron before the softener", unit: hardness, look: lines, width: 6, queries: []query{mean(detect.RawIron)}},
			{title: "Conductivity after the softener", unit: conducts, look: lines, width: 6, about: "Brine left in the bed shows as a peak after a regeneration.",
				queries: []query{mean(detect.SoftConductivity)}},
			{title: "Temperature", unit: celsius, look: lines, width: 12, queries: []query{mean(detect.WaterTemperature)}},
		}},
		{"Sensors", []panel{
			{title: "Battery", unit: percent, look: number, width: 6, queries: []query{newest(detect.Battery)}},
			{title: "Water on the floor", look: states, width: 18, about: "1 while the floor is wet.",
				queries: []query{{text: of(detect.FloorWet) + `
  |> aggregateWindow(every: v.windowPeriod, fn: max, createEmpty: false)`}}},
		}},
	}
}

// bucketVariable names the bucket that the collector writes to.
func bucketVariable() *dashboard.TextBoxVariableBuilder {
	return dashboard.NewTextBoxVariableBuilder("bucket").Label("Bucket").DefaultValue(text("brinebell/autogen")).
		Description("With InfluxDB 1.8: database/retention policy.")
}

// homesQuery lists the homes that have readings.
const homesQuery = `import "influxdata/influxdb/v1"
v1.tagValues(bucket: "${bucket}", tag: "home")`

func homeVariable() *dashboard.QueryVariableBuilder {
	return dashboard.NewQueryVariableBuilder("home").Query(text(homesQuery)).Datasource(fromInflux.ref()).
		Refresh(dashboard.VariableRefreshOnDashboardLoad).Sort(dashboard.VariableSortAlphabeticalAsc)
}

// home is the dashboard of one home.
func home() (dashboard.Dashboard, error) {
	b := dashboard.NewDashboardBuilder("Brinebell: a home").Uid("brinebell-home").Tags([]string{"brinebell"}).
		Description("What the sensors of one home measured, from InfluxDB. What Brinebell makes of it is on its own pages.").
		Time("now-2d", "now").Refresh("1m").Timezone("browser").Tooltip(dashboard.DashboardCursorSyncCrosshair).Readonly().
		WithVariable(sourceVariable(fromInflux, "InfluxDB")).WithVariable(bucketVariable()).WithVariable(homeVariable().Label("Home"))
	if err := fill(b, fromInflux, homeGroups()); err != nil {
		return dashboard.Dashboard{}, err
	}
	return b.Build()
}
