package grafana

// look is how a panel shows its queries' results.
type look int

const (
	lines  look = iota // curves over time
	bars               // one bar for each span of time
	number             // the newest value, large
	states             // spans of equal value
	rows               // a table
)

// panel is one picture.
type panel struct {
	title   string
	about   string // what to make of it; shown beside the title
	unit    string // of Grafana's units
	look    look
	width   uint32 // of 24
	queries []query
	// only says under which condition there is anything to see; empty: always.
	only string
}

// query asks a store for what a panel shows.
type query struct {
	text   string // PromQL, or Flux
	legend string // PromQL: how a curve is named
}

// group is a row of panels under a title.
type group struct {
	title  string
	panels []panel
}

const (
	rowWidth    = 24 // of Grafana's grid
	panelHeight = 8
	numberSize  = 4
)

// Query is a query of a dashboard, for those who want to run it.
type Query struct {
	Dashboard, Panel string
	Text             string // PromQL or Flux, with Grafana's variables in it
	// Only says under which condition it has results; empty: always.
	Only string
}

// queriesOf lists the queries of groups.
func queriesOf(dashboard string, groups []group) (all []Query) {
	for _, g := range groups {
		for _, p := range g.panels {
			for _, q := range p.queries {
				all = append(all, Query{dashboard, p.title, q.text, p.only})
			}
		}
	}
	return all
}
