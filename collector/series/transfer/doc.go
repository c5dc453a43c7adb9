// Package transfer copies readings from one store to another and checks that they
// arrived.
//
// It goes through time a day at a time and, within a day, through the homes, so
// that a store that takes readings in order gets them so. Each home's day is read
// from the source, written, read back and compared: for each signal the number of
// readings and a checksum over times and values. Only then it is noted in a
// journal, with which a copy that was interrupted goes on where it was. Copying a
// day twice does no harm.
package transfer
