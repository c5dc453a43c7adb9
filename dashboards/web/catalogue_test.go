package web

import (
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"golang.org/x/net/html"

	"brinebell/dashboards/web/texts"
	"brinebell/detect"
	"brinebell/detect/cause"
)

// bareWords are the words that a template says by itself, in texts and in the
// attributes that people hear. The project's name and topics of MQTT are no
// words of a language.
func bareWords(source string) []string {
	actions := regexp.MustCompile(`(?s)\{\{.*?\}\}`)
	doc, err := html.Parse(strings.NewReader(actions.ReplaceAllString(source, "")))
	if err != nil {
		return []string{err.Error()}
	}
	var words []string
	add := func(text string) {
		text = strings.NewReplacer("Brinebell", "", "homes/", "", "/sensors/", "", "<device>", "", "<id>", "").Replace(text)
		if strings.ContainsFunc(text, unicode.IsLetter) {
			words = append(words, strings.TrimSpace(text))
		}
	}
	for n := range doc.Descendants() {
		if n.Type == html.TextNode {
			add(n.Data)
		}
		for _, a := range n.Attr {
			if slices.Contains([]string{"aria-label", "title", "alt", "placeholder", "content"}, a.Key) && attribute(n, "name") != "viewport" && attribute(n, "name") != "color-scheme" {
				add(a.Val)
			}
		}
	}
	return words
}

func TestTemplatesHaveNoWordsOfTheirOwn(t *testing.T) {
	if got := bareWords(`<p title="Hello">{{t "x"}} you</p>`); len(got) != 2 {
		t.Fatalf("the check itself finds %q", got)
	}
	for _, name := range templateNames(t) {
		source, err := templateFiles.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if words := bareWords(string(source)); len(words) > 0 {
			t.Errorf("%s says by itself: %q", name, words)
		}
	}
}

func templateNames(t *testing.T) []string {
	t.Helper()
	names, err := fs.Glob(templateFiles, "templates/*.html")
	if err != nil || len(names) == 0 {
		t.Fatal(err, names)
	}
	return names
}

// TestEveryKeyThatIsSaidIsThere looks for the keys in the templates; those in
// the code are held by the pages' own tests, in which a missing key would show
// as itself.
func TestEveryKeyThatTemplatesSayIsThere(t *testing.T) {
	catalogue, err := texts.Standard()
	must(t, err)
	key := regexp.MustCompile(`\bt "([a-z_.]+)"`)
	n := 0
	for _, name := range templateNames(t) {
		source, err := templateFiles.ReadFile(name)
		must(t, err)
		for _, m := range key.FindAllStringSubmatch(string(source), -1) {
			if n++; !catalogue.Tongue(texts.English).Has(m[1]) {
				t.Errorf("%s says %s, which nobody wrote", name, m[1])
			}
		}
	}
	if n < 100 {
		t.Errorf("only %d keys found: does the search still work?", n)
	}
}

// looksLikeAKey finds a key of the catalogue that was shown because nobody wrote
// it.
var looksLikeAKey = regexp.MustCompile(`\b(town|home|case|round|fleet|refused|replay|tell|act|do|stage|level|condition|alert|cause|check|fact|summary|kind|picture|limit|proof|sheet|set|loss|watch|advice|salt|soft|next|buy|today|account|days|hours|nights|regenerations?|phase|ending|reason|blind|meter|odds|sure|who|per|span)\.[a-z_]+\b`)

// TestPagesInEveryLanguage: every page says only what the catalogue has, and in
// German no sentence of English is left but what people and sensors wrote.
func TestPagesInEveryLanguage(t *testing.T) {
	town := newFakeTown()
	options := fullOptions(town)
	options.CauseText = nil
	s, err := New(options)
	must(t, err)
	english := regexp.MustCompile(`\b(the|and|water|regeneration of|not|with|since|salt)\b`)
	for name, path := range everyFullPage(town) {
		for _, lang := range texts.Languages() {
			w := get(t, s, path, "Accept-Language", lang)
			body := text(w.Body.String())
			if w.Code != 200 || !strings.Contains(w.Body.String(), `<html lang="`+lang+`">`) {
				t.Errorf("%s in %s: %d", name, lang, w.Code)
			}
			if key := looksLikeAKey.FindString(strings.ReplaceAll(body, "x.csv", "")); key != "" {
				t.Errorf("%s in %s shows the key %s", name, lang, key)
			}
			if found := english.FindString(withoutEnglish(w.Body.String())); lang == "de" && found != "" {
				t.Errorf("%s in German says %q: …%s…", name, found, around80(withoutEnglish(w.Body.String()), found))
			}
		}
	}
}

// withoutEnglish is what a page says but for what is marked as English.
func withoutEnglish(body string) string {
	doc, err := html.Parse(strings.NewReader(body))
	if err != nil {
		return err.Error()
	}
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if attribute(n, "lang") == texts.English && n.Data != "html" {
			return
		}
		if n.Type == html.TextNode {
			b.WriteString(" " + n.Data)
		}
		for c := range n.ChildNodes() {
			walk(c)
		}
	}
	walk(doc)
	return strings.Join(strings.Fields(b.String()), " ")
}

func around80(text, found string) string {
	i := strings.Index(text, found)
	return text[max(0, i-60):min(len(text), i+60)]
}

// TestCausesSpeakEveryLanguage: whatever package cause says of causes, symptoms
// and evidence has its words in every language but English, which stands there.
func TestCausesSpeakEveryLanguage(t *testing.T) {
	catalogue, err := texts.Standard()
	must(t, err)
	for _, lang := range texts.Languages()[1:] {
		tongue := catalogue.Tongue(lang)
		need := func(key, english string) {
			if english != "" && !tongue.Has(key) {
				t.Errorf("%q has no %s for %q", lang, key, english)
			}
		}
		for _, c := range detect.Causes() {
			said, key := cause.Lookup(c), "cause."+string(c)+"."
			for part, english := range map[string]string{"title": said.Title, "household": said.Household, "technician": said.Technician, "check": said.Check,
				"caution": said.Caution, "parts": said.Parts, "tools": said.Tools} {
				need(key+part, english)
			}
		}
		for _, c := range cause.Standard().Checks() {
			key := "check." + c.ID
			need(key+".asks", c.Asks)
			need(key+".caution", c.Caution)
			if c.Tools != "none" {
				need(key+".tools", c.Tools)
			}
			for _, o := range c.Outcomes {
				need(key+"."+o.ID, o.Says)
				need(key+"."+o.ID+".means", o.Means)
			}
		}
		for _, symptom := range cause.Standard().Symptoms() {
			need("symptom."+symptom.ID+".asks", symptom.Asks)
			need("symptom."+symptom.ID+".says", symptom.Says)
		}
	}
}

// TestEveryFindingHasItsWords: a title, and a summary of which the figures are
// named as the detectors name them.
func TestEveryFindingHasItsWords(t *testing.T) {
	r := inUnits(detect.Metric)
	for _, k := range detect.Kinds() {
		if !r.Has("kind." + string(k)) {
			t.Errorf("finding %s has no title", k)
		}
	}
	catalogue, err := texts.Standard()
	must(t, err)
	for _, key := range catalogue.Keys() {
		if !strings.HasPrefix(key, "summary.") {
			continue
		}
		var names [][]string
		for _, lang := range texts.Languages() {
			var in []string
			for _, m := range wanted.FindAllStringSubmatch(catalogue.Tongue(lang).Say(key), -1) {
				if _, known := cause.FactOf(m[1]); !known && m[1] != "since" && m[1] != "onset_day" {
					t.Errorf("%s names %s, which is no evidence", key, m[1])
				}
				in = append(in, m[1])
			}
			slices.Sort(in)
			names = append(names, slices.Compact(in))
		}
		if !slices.Equal(names[0], names[1]) {
			t.Errorf("%s: figures differ: %v", key, names)
		}
	}
}
