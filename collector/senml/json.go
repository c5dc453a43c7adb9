package senml

import (
	"bytes"
	"fmt"
	"io"
	"strconv"

	"github.com/go-json-experiment/json/jsontext"
)

// readJSON fills records from a pack in JSON (RFC 8428, section 5).
func (d *Decoder) readJSON(data []byte) error {
	d.source.Reset()
	d.source.Write(data)
	if d.json == nil {
		d.json = jsontext.NewDecoder(&d.source)
	} else {
		d.json.Reset(&d.source)
	}
	if kind := d.json.PeekKind(); kind != '[' {
		return fmt.Errorf("%w: not a JSON array", ErrSyntax)
	}
	if _, err := d.json.ReadToken(); err != nil {
		return syntax(err)
	}
	for d.json.PeekKind() == '{' {
		d.records = append(d.records, record{})
		if err := d.readRecordJSON(&d.records[len(d.records)-1]); err != nil {
			return err
		}
	}
	if end, err := d.json.ReadToken(); err != nil {
		return syntax(err)
	} else if end.Kind() != ']' {
		return fmt.Errorf("%w: a record that is no JSON object", ErrSyntax)
	}
	if _, err := d.json.ReadToken(); err != io.EOF {
		return fmt.Errorf("%w: something follows the array", ErrSyntax)
	}
	return nil
}

func syntax(err error) error { return fmt.Errorf("%w: %w", ErrSyntax, err) }

// readRecordJSON reads one object, of which PeekKind has seen the brace.
func (d *Decoder) readRecordJSON(r *record) error {
	if _, err := d.json.ReadToken(); err != nil {
		return syntax(err)
	}
	for d.json.PeekKind() == '"' {
		raw, err := d.json.ReadValue()
		if err != nil {
			return syntax(err)
		}
		name := d.keep(raw)
		value, err := d.json.ReadValue()
		if err != nil {
			return syntax(err)
		}
		if err := d.takeJSON(r, name, value); err != nil {
			return err
		}
	}
	_, err := d.json.ReadToken()
	if err != nil {
		return syntax(err)
	}
	return nil
}

// keep copies a JSON string's content to where it lasts as long as the pack.
func (d *Decoder) keep(raw jsontext.Value) []byte {
	from := len(d.text)
	if bytes.IndexByte(raw, '\\') < 0 {
		d.text = append(d.text, raw[1:len(raw)-1]...)
	} else {
		d.text, _ = jsontext.AppendUnquote(d.text, raw)
	}
	return d.text[from:len(d.text):len(d.text)]
}

// takeJSON stores one field.
func (d *Decoder) takeJSON(r *record, name []byte, value jsontext.Value) error {
	l := labelNamed(name)
	if l == nil {
		return unknownLabel(name)
	}
	ok := true
	switch kind := value.Kind(); {
	case l.text != nil:
		if ok = kind == '"'; ok {
			*l.text(r) = d.keep(value)
		}
	case l.number64 != nil:
		var err error
		if ok = kind == '0'; ok {
			*l.number64(r), err = strconv.ParseFloat(string(value), 64)
			ok = err == nil
		}
	case l.field == hasBool:
		ok = kind == 't' || kind == 'f'
		r.boolean = kind == 't'
	}
	return r.store(l, ok)
}

// store marks the field as there, or the record as faulty.
func (r *record) store(l *label, ok bool) error {
	switch {
	case ok:
		r.set |= l.field
	case l.isBase():
		return fmt.Errorf("%w: the base field %s has a wrong type", ErrSyntax, l.name)
	case r.fault == "":
		r.fault = fmt.Sprintf("the field %s has a wrong type", l.name)
	}
	return nil
}

// unknownLabel ignores an extension unless its name ends in an underscore,
// which says that it must be understood (RFC 8428, section 4.4).
func unknownLabel(name []byte) error {
	if bytes.HasSuffix(name, []byte("_")) {
		return fmt.Errorf("%w: %q", ErrMandatory, name)
	}
	return nil
}
