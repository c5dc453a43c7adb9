package casebook

import (
	"time"

	"brinebell/detect/cause"
)

// reported adds what was reported from a time on; the newest answer to each
// question counts.
func (e *evidence) reported(reports []Report, from time.Time) {
	for _, r := range reports {
		if r.At.Before(from) {
			continue
		}
		for id, v := range r.Symptoms {
			put(&e.Symptoms, id, v)
		}
		for s, v := range r.Hardness {
			put(&e.Hardness, s, v)
		}
		for id, outcome := range r.Checks {
			if put(&e.Checks, id, outcome); outcome == "" {
				delete(e.Checks, id)
			}
		}
	}
}

type evidence cause.Evidence
