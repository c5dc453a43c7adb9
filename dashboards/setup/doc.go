// Package setup is the pages by which homes are put in: one by its profile, a
// whole fleet from a table with a dry run first, and for each home its profile,
// its devices, and a check whether its sensors are heard while somebody opens a
// tap. Those who add people do that here too.
//
// The pages do nothing by themselves. Each asks the interface for programs, in
// the same process and for the same person, so that there is one place in which
// it is decided who may and what is wrong. They are whole without JavaScript; a
// little of it turns the check green while one looks.
package setup
