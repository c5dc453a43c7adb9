//lint:file-ignore SA1019 the older model of a dashboard is the one that every Grafana in use imports

package grafana

import (
	"fmt"

	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
)

// The conditions under which a panel has anything to show.
const (
	onlyElsewhere = "the broker is elsewhere"
	onlyEmbedded  = "the broker is embedded"
	onlyFiles     = "readings are stored in files"
	onlySpool     = "readings are stored at a server, by way of the spool"
	onlyTelling   = "people are told"
)

// chosen are the collectors that the reader looks at.
const chosen = `{job="brinebell", instance=~"$instance"}`

// plain is a metric of each collector.
func plain(metric, legend string) query { return query{metric + chosen, legend} }

// perSecond is by how much a counter rises, by a label.
func perSecond(counter, label string) query {
	return query{fmt.Sprintf(`sum by (%s) (rate(%s%s[$__rate_interval]))`, label, counter, chosen), "{{" + label + "}}"}
}

// quantiles of a histogram: its median and its 99th percentile.
func quantiles(histogram string) (out []query) {
	for _, q := range []string{"0.5", "0.99"} {
		out = append(out, query{fmt.Sprintf(`histogram_quantile(%s, sum by (le) (rate(%s_bucket%s[$__rate_interval])))`, q, histogram, chosen), "quantile " + q})
	}
	return out
}

// collectorGroups are the panels of collectors.
func collectorGroups() []group {
	const name = "{{instance}}"
	return []group{
		{"At a glance", []panel{
			{title: "Up", look: number, width: 4, queries: []query{plain("up", name)}, about: "1: Prometheus reaches the collector."},
			{title: "Homes", look: number, width: 4, queries: []query{plain("brinebell_homes", name)}},
			{title: "Silent homes", look: number, width: 4, queries: []query{plain("brinebell_homes_silent", name)}, about: "Nothing was stored of them for an hour."},
			{title: "Homes behind", look: number, width: 4, queries: []query{plain("brinebell_homes_behind", name)}, about: "Not yet judged up to what is stored, after a start."},
			{title: "Broker connected", look: number, width: 4, queries: []query{plain("brinebell_broker_connected", name)}, only: onlyElsewhere},
			{title: "Sensors connected", look: number, width: 4, queries: []query{plain("brinebell_broker_clients", name)}, only: onlyEmbedded},
		}},
		{"Readings", []panel{
			{title: "Readings a second", unit: "cps", look: lines, width: 12, queries: []query{perSecond("brinebell_readings_total", "outcome")}, about: "Stored, or why not."},
			{title: "Messages a second", unit: "cps", look: lines, width: 12, queries: []query{perSecond("brinebell_messages_total", "outcome")}},
			{title: "From measured to stored", unit: "s", look: lines, width: 12, queries: quantiles("brinebell_reading_lag_seconds"), about: "Sensors that held readings back raise the upper curve."},
			{title: "Messages that wait", look: lines, width: 12, queries: []query{plain("brinebell_queue_messages", name)}},
			{title: "Time of a commit", unit: "s", look: lines, width: 12, queries: quantiles("brinebell_append_duration_seconds")},
			{title: "Messages in a commit", look: lines, width: 12, queries: quantiles("brinebell_batch_messages")},
			{title: "Commits refused", unit: "cps", look: lines, width: 12, about: "By the store, or by a disk that is nearly full.", queries: []query{perSecond("brinebell_append_failures_total", "instance")}},
			{title: "Batches given back for a wrong clock", unit: "cps", look: lines, width: 12, queries: []query{perSecond("brinebell_clock_refusals_total", "instance")}},
		}},
		{"Judging", []panel{
			{title: "Readings judged a second", unit: "cps", look: lines, width: 12, queries: []query{perSecond("brinebell_judged_readings_total", "outcome")}},
			{title: "Time to judge a batch", unit: "s", look: lines, width: 12, queries: quantiles("brinebell_detect_duration_seconds")},
			{title: "Homes judged again", unit: "cps", look: lines, width: 12, queries: []query{perSecond("brinebell_reruns_total", "instance")}, about: "For readings that came late."},
			{title: "Changes of alerts, an hour", look: bars, width: 12, only: "alerts have changed",
				queries: []query{{`sum by (kind) (increase(brinebell_alert_changes_total` + chosen + `[1h]))`, "{{kind}}"}}},
			{title: "Damage found at the start", look: number, width: 12, about: "Blocks and logs of the series store.", queries: []query{plain("brinebell_store_damaged_parts", name)}, only: onlyFiles},
			{title: "Saves of state", unit: "cps", look: lines, width: 12, queries: []query{perSecond("brinebell_state_saves_total", "result")}},
		}},
		{"Store at a server", []panel{
			{title: "Store answers", look: states, width: 12, queries: []query{plain("brinebell_spool_store_up", name)}, only: onlySpool},
			{title: "Bytes that wait", unit: "bytes", look: lines, width: 12, only: onlySpool,
				queries: []query{plain("brinebell_spool_waiting_bytes", name), plain("brinebell_spool_limit_bytes", name+" may")}},
			{title: "Readings that wait", look: lines, width: 12, queries: []query{plain("brinebell_spool_waiting_readings", name)}, only: onlySpool},
			{title: "Longest wait", unit: "s", look: lines, width: 12, queries: []query{plain("brinebell_spool_oldest_age_seconds", name)}, only: onlySpool},
			{title: "Left the spool a second", unit: "cps", look: lines, width: 12, queries: []query{perSecond("brinebell_spool_readings_total", "outcome")}, only: onlySpool},
			{title: "Failures of the spool", unit: "cps", look: lines, width: 12, queries: []query{perSecond("brinebell_spool_failures_total", "reason")}, only: onlySpool},
		}},
		{"Telling people", []panel{
			{title: "Messages that wait", look: lines, width: 8, queries: []query{plain("brinebell_outbox_waiting_messages", name)}, only: onlyTelling},
			{title: "Longest wait", unit: "s", look: lines, width: 8, queries: []query{plain("brinebell_outbox_oldest_age_seconds", name)}, only: onlyTelling},
			{title: "Deliveries an hour", look: bars, width: 8, only: onlyTelling,
				queries: []query{{`sum by (outcome) (increase(brinebell_outbox_deliveries_total` + chosen + `[1h]))`, "{{outcome}}"}}},
			{title: "Steps that nobody has a channel for, an hour", look: bars, width: 12, only: onlyTelling,
				queries: []query{{`sum by (instance) (increase(brinebell_outbox_unheard_steps_total` + chosen + `[1h]))`, name}}},
			{title: "Failures of the outbox", unit: "cps", look: lines, width: 12, queries: []query{perSecond("brinebell_outbox_failures_total", "instance")}, only: onlyTelling},
			{title: "Steps of cases, an hour", look: bars, width: 12, only: onlyTelling,
				queries: []query{{`sum by (act) (increase(brinebell_case_steps_total` + chosen + `[1h]))`, "{{act}}"}}},
			{title: "Cases not updated", unit: "cps", look: lines, width: 12, queries: []query{perSecond("brinebell_case_failures_total", "instance")}, only: onlyTelling},
		}},
		{"The machine", []panel{
			{title: "Processor", unit: "percentunit", look: lines, width: 8, about: "Of one core.", queries: []query{perSecond("process_cpu_seconds_total", "instance")}},
			{title: "Memory", unit: "bytes", look: lines, width: 8, queries: []query{plain("process_resident_memory_bytes", name), plain("go_memstats_heap_inuse_bytes", name+" heap")}},
			{title: "Room on the disk", unit: "bytes", look: lines, width: 8, queries: []query{plain("brinebell_data_free_bytes", name+" free"), plain("brinebell_data_size_bytes", name+" in all")}},
		}},
	}
}

// collector is the dashboard of the collectors.
func collector() (dashboard.Dashboard, error) {
	b := dashboard.NewDashboardBuilder("Brinebell: collectors").Uid("brinebell-collector").Tags([]string{"brinebell"}).
		Description("How the collectors do, from Prometheus.").Time("now-3h", "now").Refresh("15s").Timezone("browser").
		Tooltip(dashboard.DashboardCursorSyncCrosshair).Readonly().
		WithVariable(sourceVariable(fromPrometheus, "Prometheus")).
		WithVariable(dashboard.NewQueryVariableBuilder("instance").Label("Collector").Query(text(`label_values(brinebell_homes, instance)`)).
			Datasource(fromPrometheus.ref()).Refresh(dashboard.VariableRefreshOnDashboardLoad).Multi(true).IncludeAll(true).AllValue(".*"))
	if err := fill(b, fromPrometheus, collectorGroups()); err != nil {
		return dashboard.Dashboard{}, err
	}
	return b.Build()
}
