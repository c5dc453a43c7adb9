// Package people keeps who may come in: firms, the people of each, how they
// prove who they are, the devices that publish for a home, and who did what.
//
// Nobody has a password to begin with, and there is no default one. Whoever adds
// a person gets a link that works once and for a while; opening it sets the
// password. A forgotten password is another such link.
//
// What opens a door is not kept. Passwords are hashed by argon2id at the cost
// that RFC 9106 recommends; links, sessions and tokens are random, so that a
// plain SHA-256 of each is enough to know it again and of no use to a thief.
// A device's password is random too and hashed the way Mosquitto reads, so that
// the same row serves the embedded broker and that one's password file.
//
// What may be done by whom is not decided here but in package care; this
// package is asked only who somebody is. Every change that a person makes is
// noted in the audit trail by the package that carries it out, with Note.
package people
