// Package fleet reads many homes from one table, as a firm keeps them in a
// spreadsheet.
//
// The table is CSV (RFC 4180) with a header; its columns are those of Columns,
// in any order, of which id and timezone must be there. A cell is written as in a
// profile ("300 mg/L", "17 gpg", "28.3 L") and an empty one is left at its
// default. What is wrong is said for every row at once, with its line, its column
// and why, so that a spreadsheet is mended in one go; a row with anything wrong is
// no home.
package fleet
