package regeneration

// segment is one stage of the best path: minutes [from, to) of the scene.
type segment struct {
	stage    stage
	from, to int
}

// path is the best explanation of a scene as one regeneration.
type path struct {
	segs  [maxStages + 2]segment
	n     int
	score float64
	open  bool
	early bool
}

// begin and end are the minutes of the scene between which the path says that
// the regeneration took place.
func (p *path) begin() int { return p.segs[0].to }

func (p *path) end() int {
	last := p.segs[p.n-1]
	if last.stage == after {
		return last.from
	}
	return last.to
}

// holdsDraw says whether the path has the stage without which nothing is a
// regeneration, drawn or not.
func (p *path) holdsDraw() bool {
	_, draws := p.find(draw)
	_, rinses := p.find(slow)
	return draws || rinses
}

// find is the first segment of a stage.
func (p *path) find(s stage) (segment, bool) {
	for _, g := range p.segs[:p.n] {
		if g.stage == s {
			return g, true
		}
	}
	return segment{}, false
}

func (p *path) push(s segment) { p.segs[p.n] = s; p.n++ }
