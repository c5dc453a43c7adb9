// Package texts is the one catalogue of what the pages say, in every language
// they speak.
//
// The folder words holds it: each key stands once, with the sentence in each
// language side by side, so that whoever changes one sees the others. A sentence
// may name what is put into it, "{name}", and may bend with a number:
// "{n} {n:home|homes}" takes the form that the language's plural rule (Unicode
// CLDR, by golang.org/x/text) gives for n, the first form for one.
//
// A Tongue is the catalogue in one language. Match finds the one that a reader
// wants best, by what they chose or else by what their browser asks for. A key
// that a language lacks is said in English, and one that nobody has is said as
// itself; tests keep either from happening.
package texts
