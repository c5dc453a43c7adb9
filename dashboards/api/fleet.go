package api

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"brinebell/dashboards/access"
	"brinebell/detect/care"
	"brinebell/detect/fleet"
)

// maxFleet is the largest table in bytes.
const maxFleet = 16 << 20

// fleetReport says what an import would do or has done.
type fleetReport struct {
	DryRun  bool         `json:"dry_run" doc:"nothing was done"`
	Homes   int          `json:"homes" doc:"rows with nothing wrong"`
	Added   int          `json:"added"`
	Devices []newDevice  `json:"devices" nullable:"false" doc:"those added, with passwords that cannot be had again"`
	Bad     []fleet.Bad  `json:"bad" nullable:"false" doc:"all that is wrong; with any, nothing is done"`
	Columns []columnView `json:"columns" nullable:"false" doc:"what a table may have"`
}

type columnView struct {
	Name string `json:"name"`
	Says string `json:"says"`
}

func (a *API) registerFleet() {
	o := op("POST", "/homes/import", "import-homes", "Add many homes from a table (CSV); first as a dry run, Which lists every bad row", 200)
	o.MaxBodyBytes = maxFleet
	o.RequestBody = &huma.RequestBody{Required: true, Content: map[string]*huma.MediaType{"text/csv": {Schema: &huma.Schema{Type: "string"}}}}
	o.SkipValidateBody = true
	huma.Register(a.huma, o, a.importHomes)
}

func (a *API) importHomes(ctx context.Context, in *struct {
	DryRun  bool `query:"dry_run" default:"true" doc:"only say what would be done"`
	RawBody []byte
}) (*struct{ Body fleetReport }, error) {
	p, signed := access.From(ctx)
	if signed && (p.Role.Reach(care.SetUpHome) == care.Nowhere || p.Role == care.Household || !access.May(ctx, care.SetUpHome, care.Place{Firm: p.Firm})) {
		return nil, forbidden()
	}
	rows, bad := fleet.Read(bytes.NewReader(in.RawBody))
	report := fleetReport{DryRun: in.DryRun, Homes: len(rows), Devices: []newDevice{}, Bad: []fleet.Bad{}}
	for _, c := range fleet.Columns() {
		report.Columns = append(report.Columns, columnView{c.Name, c.Says})
	}
	at := make([]care.Place, len(rows))
	for i, row := range rows {
		var wrong []fleet.Bad
		at[i], wrong = a.checkRow(ctx, row)
		bad = append(bad, wrong...)
	}
	report.Bad = append(report.Bad, bad...)
	if !in.DryRun && len(bad) == 0 {
		if err := a.importRows(ctx, rows, at, &report); err != nil {
			return nil, err
		}
	}
	return &struct{ Body fleetReport }{report}, nil
}

// checkRow says what is wrong with a row here: who asks may not, or there is
// such a home.
func (a *API) checkRow(ctx context.Context, row fleet.Row) (at care.Place, bad []fleet.Bad) {
	if _, err := a.home(row.Home.ID); err == nil {
		bad = append(bad, fleet.Bad{Line: row.Line, Column: "id", Why: "another home has that id"})
	}
	at, err := a.newPlace(ctx, care.Place{Home: row.Home.ID, Firm: row.Firm, Area: row.Area})
	if err != nil {
		bad = append(bad, fleet.Bad{Line: row.Line, Column: "firm", Why: "there is no such firm to Which you may add homes"})
	}
	seen := map[string]bool{}
	for _, id := range row.Devices {
		if seen[id] || care.CheckDeviceID(id) != nil {
			bad = append(bad, fleet.Bad{Line: row.Line, Column: "devices", Why: fmt.Sprintf("%q is given twice or is no id: small letters, digits and hyphens, as in water-meter", id)})
		}
		seen[id] = true
	}
	return at, bad
}

// importRows adds the homes with their devices, up to the first failure.
func (a *API) importRows(ctx context.Context, rows []fleet.Row, at []care.Place, report *fleetReport) error {
	for i, row := range rows {
		if err := a.putNew(ctx, row.Home, row.Profile, at[i]); err != nil {
			if status, ok := errors.AsType[huma.StatusError](err); ok && status.GetStatus() < http.StatusInternalServerError {
				return huma.NewError(status.GetStatus(), fmt.Sprintf("line %d: %s; the %d homes before it were added", row.Line, err.Error(), report.Added))
			}
			return err
		}
		report.Added++
		for _, id := range row.Devices {
			if a.People == nil {
				break
			}
			password, err := a.People.AddDevice(ctx, care.Device{Home: row.Home.ID, ID: id, Name: id, Password: true})
			if err != nil {
				return a.fail(err, "device")
			}
			report.Devices = append(report.Devices, newDevice{DeviceView: viewOfDevice(care.Device{Home: row.Home.ID, ID: id, Name: id, Password: true}), Secret: password})
		}
	}
	return nil
}
