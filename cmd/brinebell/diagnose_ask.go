package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"brinebell/detect/cause"
)

// errEnough is that the person at the keyboard has had enough.
var errEnough = errors.New("stopped")

// conversation asks multiple-choice questions.
type conversation struct {
	in  *bufio.Scanner
	out io.Writer
}

// converse asks for symptoms, then for one check after the other.
func converse(ctx context.Context, s streams, who cause.Who) error {
	c := &conversation{bufio.NewScanner(s.in), s.out}
	err := c.run(ctx, who)
	if errors.Is(err, errEnough) {
		return nil
	}
	return err
}

func (c *conversation) run(ctx context.Context, who cause.Who) error {
	m := cause.Standard()
	e := cause.Evidence{Symptoms: map[string]bool{}}
	fmt.Fprintln(c.out, "What do people notice? Answer with a number; q ends.")
	for _, s := range m.Symptoms() {
		i, err := c.choose(s.Asks, []string{"yes", "no", "do not know"})
		if err != nil {
			return err
		}
		if i < 2 {
			e.Symptoms[s.ID] = i == 0
		}
	}
	session := cause.NewSession(m, e, who)
	for ctx.Err() == nil {
		step := session.Step()
		if step.Verdict != cause.Ask {
			fmt.Fprintln(c.out)
			return printDiagnosis(c.out, step, nil)
		}
		if err := c.check(session, step); err != nil {
			return err
		}
	}
	return ctx.Err()
}

func (c *conversation) check(session *cause.Session, step cause.Step) error {
	fmt.Fprintln(c.out)
	for _, r := range step.Causes[:min(3, len(step.Causes))] {
		fmt.Fprintf(c.out, "%3.0f %%  %s\n", 100*r.Probability, cause.Lookup(r.Cause).Title)
	}
	k := step.Next.Check
	fmt.Fprintf(c.out, "Next check, %.0f min, tools: %s. %s\n", k.Minutes, k.Tools, k.Caution)
	var says []string
	for _, o := range k.Outcomes {
		says = append(says, o.Says)
	}
	i, err := c.choose(k.Asks, append(says, "cannot be checked"))
	switch {
	case err != nil:
		return err
	case i == len(says):
		session.Skip(k.ID)
		return nil
	}
	return session.Tell(k.ID, k.Outcomes[i].ID)
}

// choose asks until one of the answers is chosen.
func (c *conversation) choose(question string, answers []string) (int, error) {
	for {
		fmt.Fprintln(c.out, question)
		for i, a := range answers {
			fmt.Fprintf(c.out, "  %d %s\n", i+1, a)
		}
		fmt.Fprint(c.out, "> ")
		if !c.in.Scan() {
			return 0, errors.Join(errEnough, c.in.Err())
		}
		text := strings.TrimSpace(c.in.Text())
		if text == "q" {
			return 0, errEnough
		}
		if n, err := strconv.Atoi(text); err == nil && n >= 1 && n <= len(answers) {
			return n - 1, nil
		}
		fmt.Fprintf(c.out, "Answer with a number from 1 to %d, or q.\n", len(answers))
	}
}
