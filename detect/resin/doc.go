// Package resin is what an ion exchange bed can do: how much hardness a dose of
// salt lets it take up, how long that lasts, what it costs, and how a
// technician would set it.
//
// Two limits are physics. A kilogram of sodium chloride cannot displace more
// than 17.1 equivalents of hardness, and a litre of resin cannot hold more than
// about 2. Between them lies practice: a bed regenerated with brine from the
// same end as the service flow takes up less than either, and the more salt it
// is given the less each kilogram does. Capacity follows the published rows of
// that curve, interpolated so that capacity always rises and efficiency always
// falls with the dose. The rows of different authors differ by 10 %, and so does
// what Capacity says: see CapacityScatter.
//
// Efficiency is judged by named checks, each with the rule it comes from. Advise
// searches the doses for the setting that costs least per year among those a
// technician would defend: enough reserve for a heavy day, not fewer than three
// days between regenerations, and at least the efficiency the rules ask for.
//
// Units: hardness is mg/L as CaCO3, capacity eq per litre of resin, salt kg or g
// per litre of resin, water litres.
package resin
