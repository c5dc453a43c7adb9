// Package engine joins the parts of detect: readings of many homes in, alerts
// out.
//
// Each home is a chain of its own. Order sorts readings that overtook each
// other, an Assembler makes minutes of them, the recogniser and the books
// follow the minutes, and every detector looks at each minute once. Time is the
// time of measurement throughout: the same readings give the same alerts
// whenever and in whatever order (within Order's window) they arrive. What
// arrives later than that is refused as Late; the caller restores an older
// snapshot and reads the series again.
//
// An Engine is not safe for concurrent use. Homes share nothing, so a caller
// uses several cores with several engines.
package engine
