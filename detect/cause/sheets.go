package cause

// The files of the table, as they are written.
type (
	causesSheet struct {
		WindowDays float64 `yaml:"window_days"`
		Strength   float64
		Sources    map[string]string
		Causes     []row
		Lasts      []row
	}
	findingsSheet struct {
		Silence  float64
		Odd      float64
		OddWith  []string `yaml:"odd_with"`
		Findings []findingSheet
	}
	findingSheet struct {
		Kind, Says, Silent string
		Needs              []string
		FalsePerYear       float64 `yaml:"false_per_year"`
		Missed, Days       float64
		Rows               []row
		Details            []detailSheet
	}
	detailSheet struct {
		Key     string
		Choices []string
		Least   float64
		Rows    []row
	}
	symptomsSheet struct{ Symptoms []symptomSheet }
	symptomSheet  struct {
		ID, Asks, Says string
		None           float64
		Rows           []row
	}
	hardnessSheet struct{ Taps, Raw measureSheet }
	measureSheet  struct {
		States     []stateSheet
		Few        float64
		WithoutRaw float64 `yaml:"without_raw"`
		TypicalRaw float64 `yaml:"typical_raw"`
		None       []float64
		Rows       []row
	}
	stateSheet struct {
		ID, Says, Means   string
		Cold, Hot, Factor float64
		Source            string
	}
	checksSheet struct{ Checks []checkSheet }
	checkSheet  struct {
		ID, Asks, Who, Tools, Caution string
		Minutes                       float64
		Replaces                      string
		SameAs                        string `yaml:"same_as"`
		Outcomes                      []Outcome
		None                          []float64
		Rows                          []row
	}
)

// Outcome is one answer to a check.
type Outcome struct {
	ID    string `json:"id"`
	Says  string `json:"says"`  // the answer in plain words
	Means string `json:"means"` // what it would mean
}
