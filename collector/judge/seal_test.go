package judge

import (
	"bytes"
	"encoding/binary"
	"testing"

	"pgregory.net/rapid"
)

// TestSealOfAKnownText holds the checksum to a published one: 32 bytes of zeros
// have the CRC-32C 0x8A9136AA (RFC 3720, appendix B.4, which writes it with the
// least byte first: aa 36 91 8a; from memory).
func TestSealOfAKnownText(t *testing.T) {
	if got := binary.BigEndian.Uint32(seal(make([]byte, 32))); got != 0x8A9136AA {
		t.Errorf("%08x", got)
	}
}

func TestSealShowsDamage(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		snapshot := rapid.SliceOf(rapid.Byte()).Draw(t, "snapshot")
		sealed := seal(snapshot)
		if got, err := unseal(sealed); err != nil || !bytes.Equal(got, snapshot) {
			t.Fatalf("%x %v, want %x", got, err, snapshot)
		}
		bit := rapid.IntRange(0, 8*len(sealed)-1).Draw(t, "bit")
		sealed[bit/8] ^= 1 << (bit % 8)
		if _, err := unseal(sealed); err == nil {
			t.Fatal("a flipped bit goes unseen")
		}
		sealed[bit/8] ^= 1 << (bit % 8)
		if _, err := unseal(sealed[:rapid.IntRange(0, len(sealed)-1).Draw(t, "length")]); err == nil && len(snapshot) > 0 {
			t.Fatal("a missing end goes unseen")
		}
	})
}
