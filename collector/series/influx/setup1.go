package influx

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"brinebell/collector/series"
)

// missingV1 compares databases, retention policies and continuous queries
// ("Database management" and "Continuous queries", InfluxQL reference of 1.8).
func (s *Store) missingV1(ctx context.Context, want Setup) (steps []Step, err error) {
	database, policy, ok := strings.Cut(s.opts.Bucket, "/")
	if !ok {
		return nil, fmt.Errorf("InfluxDB 1.8: the bucket %q must be written as database/retention policy, as in brinebell/autogen", s.opts.Bucket)
	}
	databases, err := s.statement(ctx, `SHOW DATABASES`)
	if err != nil {
		return nil, err
	}
	is := map[string]time.Duration{}
	if !databases.has("name", database) {
		steps = append(steps, s.statementStep("make the database "+database, fmt.Sprintf(`CREATE DATABASE %s`, ident(database))))
		is["autogen"] = 0 // it comes with it, and nothing is in it
		want.Shorten = true
	} else if is, err = s.policies(ctx, database); err != nil {
		return nil, err
	}
	steps = append(steps, s.policyStep(database, policy, want.Retention, is, want.Shorten)...)
	for _, l := range want.levels() {
		steps = append(steps, s.policyStep(database, l.name, l.keep, is, want.Shorten)...)
	}
	queries, err := s.statement(ctx, `SHOW CONTINUOUS QUERIES`)
	if err != nil {
		return nil, err
	}
	for _, l := range want.levels() {
		steps = append(steps, s.continuousStep(database, policy, l, queries.of(database))...)
	}
	return steps, nil
}

// policies are the retention policies of a database and their durations.
func (s *Store) policies(ctx context.Context, database string) (map[string]time.Duration, error) {
	answer, err := s.statement(ctx, `SHOW RETENTION POLICIES ON `+ident(database))
	if err != nil {
		return nil, err
	}
	is := map[string]time.Duration{}
	for _, t := range answer {
		for _, row := range t.rows() {
			if is[row["name"]], err = time.ParseDuration(row["duration"]); err != nil {
				return nil, fmt.Errorf("InfluxDB: retention policy %s: %w", row["name"], err)
			}
		}
	}
	return is, nil
}

func (s *Store) policyStep(database, name string, keep time.Duration, is map[string]time.Duration, shorten bool) []Step {
	now, there := is[name]
	duration := "INF"
	if keep > 0 {
		duration = fmt.Sprintf("%dh", max(1, int(keep.Hours())))
	}
	verb, text := "ALTER", "keep "+name+" "+forHowLong(keep)
	switch {
	case !there:
		verb, text = "CREATE", "make the retention policy "+name+", which keeps "+forHowLong(keep)
	case now == keep:
		return nil
	case shorter(keep, now) && !shorten:
		return []Step{remark(name, now, keep)}
	case shorter(keep, now):
		text += ", which deletes what is older (it keeps " + forHowLong(now) + " now)"
	}
	replication := ""
	if !there {
		replication = " REPLICATION 1"
	}
	return []Step{s.statementStep(text, fmt.Sprintf(`%s RETENTION POLICY %s ON %s DURATION %s%s`, verb, ident(name), ident(database), duration, replication))}
}

// continuousStep makes a level's continuous query, in place of one that says
// something else.
func (s *Store) continuousStep(database, policy string, l level, queries []map[string]string) (steps []Step) {
	name := taskPrefix + l.name
	text := fmt.Sprintf(`CREATE CONTINUOUS QUERY %s ON %s RESAMPLE EVERY %s FOR 1d BEGIN SELECT min("value") AS "min", mean("value") AS "mean", max("value") AS "max", count("value") AS "count" INTO %s.%s.:MEASUREMENT FROM %s.%s./.*/ GROUP BY time(%s), * END`,
		ident(name), ident(database), l.every, ident(database), ident(l.name), ident(database), ident(policy), l.width)
	for _, q := range queries {
		if q["name"] != name {
			continue
		}
		if plain(q["query"]) == plain(text) {
			return nil
		}
		steps = append(steps, s.statementStep("drop the continuous query "+name+", which says something else", fmt.Sprintf(`DROP CONTINUOUS QUERY %s ON %s`, ident(name), ident(database))))
	}
	return append(steps, s.statementStep("make the continuous query "+name, text))
}

// plain leaves out what the server may write differently.
func plain(statement string) string { return strings.NewReplacer(`"`, "", " ", "").Replace(statement) }

// ident is a name in InfluxQL.
func ident(name string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`).Replace(name) + `"`
}

func (s *Store) statementStep(text, statement string) Step {
	return Step{text, func(ctx context.Context) error {
		_, err := s.statement(ctx, statement)
		return err
	}}
}

// table is one of an answer of InfluxQL.
type table struct {
	Name    string   `json:"name"`
	Columns []string `json:"columns"`
	Values  [][]any  `json:"values"`
}

func (t table) rows() (rows []map[string]string) {
	for _, v := range t.Values {
		row := map[string]string{}
		for i, c := range t.Columns {
			row[c] = fmt.Sprint(v[i])
		}
		rows = append(rows, row)
	}
	return rows
}

type tables []table

func (ts tables) has(column, value string) bool {
	for _, t := range ts {
		for _, row := range t.rows() {
			if row[column] == value {
				return true
			}
		}
	}
	return false
}

// of are the rows of the table of this name.
func (ts tables) of(name string) (rows []map[string]string) {
	for _, t := range ts {
		if t.Name == name {
			rows = append(rows, t.rows()...)
		}
	}
	return rows
}

// statement gives InfluxDB 1.8 a statement of InfluxQL. The client library speaks
// only the interfaces of version 2, in which 1.8 has none for this.
func (s *Store) statement(ctx context.Context, statement string) (tables, error) {
	return s.statementOn(ctx, "", statement)
}

// statementOn is statement on a database, for statements that name none.
func (s *Store) statementOn(ctx context.Context, database, statement string) (tables, error) {
	form := url.Values{"q": {statement}, "db": {database}}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, strings.TrimSuffix(s.opts.URL, "/")+"/query", strings.NewReader(form.Encode()))
	if err != nil {
		return nil, err
	}
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if s.opts.Token != "" {
		request.Header.Set("Authorization", "Token "+s.opts.Token)
	}
	answer, err := s.http.Do(request)
	if err != nil {
		return nil, fmt.Errorf("InfluxDB: %w: %w", series.ErrUnavailable, err)
	}
	defer answer.Body.Close()
	var body struct {
		Error   string `json:"error"`
		Results []struct {
			Error  string `json:"error"`
			Series tables `json:"series"`
		} `json:"results"`
	}
	err = json.NewDecoder(answer.Body).Decode(&body)
	switch {
	case body.Error != "":
		return nil, errors.New("InfluxDB: " + body.Error)
	case err != nil || answer.StatusCode != http.StatusOK || len(body.Results) != 1:
		return nil, fmt.Errorf("InfluxDB: it answers %q with %s (%v)", statement, answer.Status, err)
	case body.Results[0].Error != "":
		return nil, errors.New("InfluxDB: " + body.Results[0].Error)
	}
	return body.Results[0].Series, nil
}
