package senml

// fields is the set of fields that a record has.
type fields uint16

const (
	hasBaseName fields = 1 << iota
	hasBaseTime
	hasBaseUnit
	hasBaseValue
	hasBaseSum
	hasVersion
	hasName
	hasUnit
	hasValue
	hasBool
	hasSum
	hasTime
	hasOther // a string or data value
)

// record is a record as it was written.
type record struct {
	set                            fields
	baseName, baseUnit, name, unit []byte
	baseTime, baseValue, baseSum   float64
	value, sum, time, version      float64
	boolean                        bool
	fault                          string // why it cannot be used, found in its syntax
}

func (r *record) has(f fields) bool { return r.set&f != 0 }

// label is one of RFC 8428, section 4.3, table 1, with its CBOR number and what
// it stores. A label with neither text nor number is read and ignored.
type label struct {
	name     string
	number   int64
	field    fields
	text     func(*record) *[]byte
	number64 func(*record) *float64
}

// labels are all known ones. Base labels come first.
var labels = [...]label{
	{"bn", -2, hasBaseName, func(r *record) *[]byte { return &r.baseName }, nil},
	{"bt", -3, hasBaseTime, nil, func(r *record) *float64 { return &r.baseTime }},
	{"bu", -4, hasBaseUnit, func(r *record) *[]byte { return &r.baseUnit }, nil},
	{"bv", -5, hasBaseValue, nil, func(r *record) *float64 { return &r.baseValue }},
	{"bs", -6, hasBaseSum, nil, func(r *record) *float64 { return &r.baseSum }},
	{"bver", -1, hasVersion, nil, func(r *record) *float64 { return &r.version }},
	{"n", 0, hasName, func(r *record) *[]byte { return &r.name }, nil},
	{"u", 1, hasUnit, func(r *record) *[]byte { return &r.unit }, nil},
	{"v", 2, hasValue, nil, func(r *record) *float64 { return &r.value }},
	{"s", 5, hasSum, nil, func(r *record) *float64 { return &r.sum }},
	{"t", 6, hasTime, nil, func(r *record) *float64 { return &r.time }},
	{"vb", 4, hasBool, nil, nil},
	{"vs", 3, hasOther, nil, nil},
	{"vd", 8, hasOther, nil, nil},
	{"ut", 7, 0, nil, nil},
}

// isBase says whether a fault in the field spoils the records after it too.
func (l *label) isBase() bool { return l.field != 0 && l.field <= hasVersion }

// labelNamed finds a label by its name in JSON, or nil.
func labelNamed(name []byte) *label {
	for i := range labels {
		if string(name) == labels[i].name {
			return &labels[i]
		}
	}
	return nil
}

// labelNumbered finds a label by its number in CBOR (RFC 8428, section 6,
// table 4), or nil.
func labelNumbered(n int64) *label {
	for i := range labels {
		if n == labels[i].number {
			return &labels[i]
		}
	}
	return nil
}
