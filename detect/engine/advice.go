package engine

import "brinebell/detect/resin"

// Advice is the setting that a technician would choose at a home: for its raw
// hardness and iron as last measured, else by its profile, and for its use by
// weekday. A note among it says where the use is not known yet. ok is false for an
// unknown home.
func (e *Engine) Advice(id string) (a resin.Advice, ok bool) {
	h, ok := e.homes[id]
	if !ok {
		return resin.Advice{}, false
	}
	return h.state.Ledger.Advice(), true
}
