package cause

import (
	"fmt"

	"go.yaml.in/yaml/v3"
)

// row is one line of the table: a cause (or "other"), its numbers, why, and the
// name of its source.
type row struct {
	Cause   string
	Numbers []float64
	Reason  string
	Source  string
	line    int
}

// UnmarshalYAML reads [cause, number..., reason, source]; a list of chances
// stands for as many numbers.
func (r *row) UnmarshalYAML(n *yaml.Node) error {
	r.line = n.Line
	if n.Kind != yaml.SequenceNode || len(n.Content) < 4 {
		return fmt.Errorf("line %d: a row is [cause, numbers, reason, source]", n.Line)
	}
	last := len(n.Content) - 1
	r.Cause, r.Reason, r.Source = n.Content[0].Value, n.Content[last-1].Value, n.Content[last].Value
	for _, c := range n.Content[1 : last-1] {
		if err := r.number(c); err != nil {
			return err
		}
	}
	return nil
}

func (r *row) number(n *yaml.Node) error {
	if n.Kind == yaml.SequenceNode {
		for _, c := range n.Content {
			if err := r.number(c); err != nil {
				return err
			}
		}
		return nil
	}
	var v float64
	if err := n.Decode(&v); err != nil {
		return fmt.Errorf("line %d: %q is not a number", n.Line, n.Value)
	}
	r.Numbers = append(r.Numbers, v)
	return nil
}
