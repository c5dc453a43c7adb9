package judge

import (
	"encoding/binary"
	"errors"
	"hash/crc32"
)

// castagnoli is the polynomial that processors have an instruction for (RFC
// 3720, appendix B.4).
var castagnoli = crc32.MakeTable(crc32.Castagnoli)

var errSeal = errors.New("it is damaged, or of a version before snapshots were sealed")

// seal puts a checksum before a snapshot: one that is damaged could be read all
// the same, and judge wrongly from then on.
func seal(snapshot []byte) []byte {
	return append(binary.BigEndian.AppendUint32(nil, crc32.Checksum(snapshot, castagnoli)), snapshot...)
}

// unseal gives the snapshot back, if it is whole.
func unseal(sealed []byte) ([]byte, error) {
	if len(sealed) < crc32.Size || binary.BigEndian.Uint32(sealed) != crc32.Checksum(sealed[crc32.Size:], castagnoli) {
		return nil, errSeal
	}
	return sealed[crc32.Size:], nil
}

// Seal and Unseal are for whoever reads or makes a state store beside a collector:
// a snapshot as it is stored, and back, if it is whole.
func Seal(snapshot []byte) []byte { return seal(snapshot) }

// Unseal is Seal's inverse.
func Unseal(sealed []byte) ([]byte, error) { return unseal(sealed) }
