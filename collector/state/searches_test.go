package state

import (
	"fmt"
	"path/filepath"
	"slices"
	"testing"
)

// Searches are each person's own, one of a name, few enough, and go with the
// person.
func TestSearches(t *testing.T) {
	ctx := t.Context()
	db, err := Open(ctx, filepath.Join(t.TempDir(), "state.db"), nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	do := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	kept := func(person string) (out []Search) {
		t.Helper()
		out, err := db.Searches(ctx, person)
		do(err)
		return out
	}
	_, err = db.sql.ExecContext(ctx, `INSERT INTO firms VALUES ('f', 'F', 0); INSERT INTO people (id, firm, role, name, email, units, language, timezone) VALUES ('p', 'f', 'technician', 'P', 'p@x', '', '', '')`)
	if err != nil {
		t.Skipf("the table of people has another form: %v", err)
	}
	do(db.SaveSearch(ctx, "", Search{"north", "area=North"}))
	do(db.SaveSearch(ctx, "p", Search{"north", "area=N"}))
	do(db.SaveSearch(ctx, "p", Search{"Leaks", "cause=flapper_leak"}))
	do(db.SaveSearch(ctx, "p", Search{"north", "area=North+bank"}))
	if got := kept("p"); !slices.Equal(got, []Search{{"Leaks", "cause=flapper_leak"}, {"north", "area=North+bank"}}) {
		t.Errorf("%v", got)
	}
	do(db.ForgetSearch(ctx, "p", "north"))
	do(db.ForgetSearch(ctx, "p", "never"))
	if got := kept("p"); len(got) != 1 || len(kept("")) != 1 {
		t.Errorf("%v, %v", got, kept(""))
	}
	for i := range mostSearches + 3 {
		do(db.SaveSearch(ctx, "", Search{fmt.Sprint(i), "q=x"}))
	}
	if got := kept(""); len(got) != mostSearches || slices.Contains(got, Search{"north", "area=North"}) {
		t.Errorf("%d kept, the oldest among them", len(got))
	}
	_, err = db.sql.ExecContext(ctx, `DELETE FROM people WHERE id = 'p'`)
	do(err)
	if got := kept("p"); len(got) != 0 {
		t.Errorf("of somebody who is gone: %v", got)
	}
}
