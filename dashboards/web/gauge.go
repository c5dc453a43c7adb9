package web

// gauge is one thing a household wants to know at a glance: its value, how full
// it is, and what that means.
type gauge struct {
	Name, Value string
	Note, More  string
	Share       int  // per cent, for the bar
	Known, Low  bool // Known draws the bar, Low colours it
}
