//lint:file-ignore SA1019 the older model of a dashboard is the one that every Grafana in use imports

package grafana

import (
	"fmt"

	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/cog/variants"
	"github.com/grafana/grafana-foundation-sdk/go/common"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
	"github.com/grafana/grafana-foundation-sdk/go/prometheus"
	"github.com/grafana/grafana-foundation-sdk/go/stat"
	"github.com/grafana/grafana-foundation-sdk/go/statetimeline"
	"github.com/grafana/grafana-foundation-sdk/go/table"
	"github.com/grafana/grafana-foundation-sdk/go/timeseries"
)

// source is a kind of data source. A dashboard lets its reader choose among
// those of the kind, by the variable "source".
type source string

const (
	fromPrometheus source = "prometheus"
	fromInflux     source = "influxdb"
)

// ref is the data source that the reader has chosen.
func (s source) ref() common.DataSourceRef {
	kind, chosen := string(s), "${source}"
	return common.DataSourceRef{Type: &kind, Uid: &chosen}
}

// targets are a panel's queries as Grafana sends them.
func (s source) targets(p panel) (out []cog.Builder[variants.Dataquery]) {
	for i, q := range p.queries {
		id := string(rune('A' + i))
		if s == fromInflux {
			out = append(out, fluxBuilder{flux{RefID: id, Query: q.text, Datasource: s.ref()}})
			continue
		}
		b := prometheus.NewDataqueryBuilder().RefId(id).Expr(q.text).LegendFormat(q.legend).Datasource(s.ref())
		if p.look == rows {
			b.Format(prometheus.PromQueryFormatTable).Instant()
		} else {
			b.Range()
		}
		out = append(out, b)
	}
	return out
}

// build makes a panel of a data source.
func (p panel) build(s source) (cog.Builder[dashboard.Panel], error) {
	switch p.look {
	case lines, bars:
		b := timeseries.NewPanelBuilder().Title(p.title).Description(p.about).Unit(p.unit).Datasource(s.ref()).Targets(s.targets(p)).
			Span(p.width).Height(panelHeight).FillOpacity(10).ShowPoints(common.VisibilityModeNever).
			Tooltip(common.NewVizTooltipOptionsBuilder().Mode(common.TooltipDisplayModeMulti))
		if p.look == bars {
			b.DrawStyle(common.GraphDrawStyleBars).FillOpacity(80)
		}
		return b, nil
	case number:
		return stat.NewPanelBuilder().Title(p.title).Description(p.about).Unit(p.unit).Datasource(s.ref()).Targets(s.targets(p)).
			Span(p.width).Height(numberSize).
			ReduceOptions(common.NewReduceDataOptionsBuilder().Calcs([]string{"lastNotNull"})), nil
	case states:
		return statetimeline.NewPanelBuilder().Title(p.title).Description(p.about).Unit(p.unit).Datasource(s.ref()).Targets(s.targets(p)).
			Span(p.width).Height(panelHeight).MergeValues(true), nil
	case rows:
		return table.NewPanelBuilder().Title(p.title).Description(p.about).Unit(p.unit).Datasource(s.ref()).Targets(s.targets(p)).
			Span(p.width).Height(panelHeight).Footer(common.NewTableFooterOptionsBuilder().Show(false).Reducer([]string{"count"})), nil
	}
	return nil, fmt.Errorf("panel %q has no look", p.title)
}

// fill puts groups of panels into a dashboard.
func fill(b *dashboard.DashboardBuilder, s source, groups []group) error {
	for _, g := range groups {
		b.WithRow(dashboard.NewRowBuilder(g.title))
		for _, p := range g.panels {
			built, err := p.build(s)
			if err != nil {
				return err
			}
			b.WithPanel(built)
		}
	}
	return nil
}

// sourceVariable lets the reader choose a data source.
func sourceVariable(s source, label string) *dashboard.DatasourceVariableBuilder {
	return dashboard.NewDatasourceVariableBuilder("source").Label(label).Type(string(s))
}

// text is a query or a default of a variable.
func text(s string) dashboard.StringOrMap { return dashboard.StringOrMap{String: &s} }
