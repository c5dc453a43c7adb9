package grafana

import (
	"errors"
	"fmt"

	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/cog/variants"
	"github.com/grafana/grafana-foundation-sdk/go/common"

	"brinebell/detect"
)

// flux is a query of Grafana's InfluxDB data source in Flux. The SDK has no type
// of its own for it.
type flux struct {
	RefID      string               `json:"refId"`
	Datasource common.DataSourceRef `json:"datasource"`
	Query      string               `json:"query"`
}

var _ variants.Dataquery = flux{}

// ImplementsDataqueryVariant marks a query.
func (flux) ImplementsDataqueryVariant() {}

// DataqueryType names the data source.
func (flux) DataqueryType() string { return string(fromInflux) }

// Equals compares queries.
func (f flux) Equals(other variants.Dataquery) bool {
	o, ok := other.(flux)
	return ok && o.RefID == f.RefID && o.Query == f.Query && o.Datasource.Equals(f.Datasource)
}

// Validate checks a query.
func (f flux) Validate() error {
	if f.Query == "" {
		return errors.New("a query without text")
	}
	return nil
}

type fluxBuilder struct{ query flux }

var _ cog.Builder[variants.Dataquery] = fluxBuilder{}

// Build gives the query.
func (b fluxBuilder) Build() (variants.Dataquery, error) { return b.query, b.query.Validate() }

// of begins a query of a signal at the chosen homes, over the span that the
// reader looks at.
func of(s detect.Signal) string {
	return fmt.Sprintf(`from(bucket: "${bucket}")
  |> range(start: v.timeRangeStart, stop: v.timeRangeStop)
  |> filter(fn: (r) => r._measurement == "%s" and r._field == "value" and r.home =~ /^${home:regex}$/)`, s)
}

// mean is a signal's mean in each of the spans that the reader's screen can
// show.
func mean(s detect.Signal) query {
	return query{text: of(s) + `
  |> aggregateWindow(every: v.windowPeriod, fn: mean, createEmpty: false)`}
}

// rate is the flow that a running total makes, L/min. A total that begins anew
// counts for nothing.
func rate(s detect.Signal) query {
	return query{text: of(s) + `
  |> aggregateWindow(every: v.windowPeriod, fn: last, createEmpty: false)
  |> derivative(unit: 1m, nonNegative: true)`}
}

// daily is what a running total rose by on each day, UTC.
func daily(s detect.Signal) query {
	return query{text: of(s) + `
  |> difference(nonNegative: true)
  |> aggregateWindow(every: 1d, fn: sum, createEmpty: false)`}
}

// newest is the last value of each home.
func newest(s detect.Signal) query {
	return query{text: of(s) + `
  |> last()`}
}

// newestTable is the last value of each home as one table, lowest first.
func newestTable(s detect.Signal) query {
	return query{text: of(s) + `
  |> last()
  |> keep(columns: ["home", "_time", "_value"])
  |> group()
  |> sort(columns: ["_value"])`}
}
