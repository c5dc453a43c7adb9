package texts

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"
	"golang.org/x/text/language"
)

//go:embed words
var words embed.FS

// English is the language that every key has first.
const English = "en"

// Languages are those the pages speak, English first.
func Languages() []string { return []string{English, "de"} }

// Catalogue is all texts in all languages. It is not changed by use.
type Catalogue struct {
	tongues map[string]*Tongue
	matcher language.Matcher
	keys    []string
}

// Standard is the catalogue that comes with the program, read once.
var Standard = sync.OnceValues(func() (*Catalogue, error) {
	files, err := fs.Sub(words, "words")
	if err != nil {
		return nil, err
	}
	return Load(files)
})

// Load reads every YAML file of a folder. All that is wrong is reported at once.
func Load(files fs.FS) (*Catalogue, error) {
	names, err := fs.Glob(files, "*.yaml")
	if err != nil {
		return nil, err
	}
	entries := map[string]map[string]string{}
	var wrong []error
	for _, name := range names {
		wrong = append(wrong, read(files, name, entries))
	}
	c := build(entries)
	wrong = append(wrong, c.check()...)
	return c, errors.Join(wrong...)
}

func read(files fs.FS, name string, into map[string]map[string]string) error {
	body, err := fs.ReadFile(files, name)
	if err != nil {
		return err
	}
	entries := map[string]map[string]string{}
	if err := yaml.Unmarshal(body, &entries); err != nil {
		return fmt.Errorf("%s: %w", path.Base(name), err)
	}
	for key, said := range entries {
		if into[key] != nil {
			return fmt.Errorf("%s: %s stands in another file too", name, key)
		}
		into[key] = said
	}
	return nil
}

func build(entries map[string]map[string]string) *Catalogue {
	c := &Catalogue{tongues: map[string]*Tongue{}}
	var tags []language.Tag
	for _, lang := range Languages() {
		tag := language.MustParse(lang)
		tags = append(tags, tag)
		c.tongues[lang] = &Tongue{lang: lang, tag: tag, said: map[string]sentence{}}
	}
	for key, said := range entries {
		c.keys = append(c.keys, key)
		for lang, text := range said {
			if t := c.tongues[lang]; t != nil {
				t.said[key] = parse(text)
			}
		}
	}
	slices.Sort(c.keys)
	for _, t := range c.tongues {
		t.english = c.tongues[English]
		t.settle()
	}
	c.matcher = language.NewMatcher(tags)
	return c
}

// check names every key that a language lacks, has too much or says with other
// holes than English.
func (c *Catalogue) check() (wrong []error) {
	for _, key := range c.keys {
		english, ok := c.tongues[English].said[key]
		for _, lang := range Languages() {
			said, has := c.tongues[lang].said[key]
			switch {
			case !has && lang == English && borrowed(key):
			case strings.Contains(said.flat(), "{"):
				wrong = append(wrong, fmt.Errorf("%s: %q has a hole within a hole", key, lang))
			case !has:
				wrong = append(wrong, fmt.Errorf("%s: not said in %q", key, lang))
			case ok && !slices.Equal(english.holes(), said.holes()):
				wrong = append(wrong, fmt.Errorf("%s: %q names %v, English %v", key, lang, said.holes(), english.holes()))
			}
		}
	}
	return wrong
}

// borrowed says whether a key's English stands elsewhere, with what it speaks
// of: the causes, checks, symptoms and facts of package cause.
func borrowed(key string) bool {
	for _, prefix := range []string{"cause.", "check.", "symptom.", "fact."} {
		if strings.HasPrefix(key, prefix) {
			return true
		}
	}
	return false
}

// Keys lists every key, sorted.
func (c *Catalogue) Keys() []string { return slices.Clone(c.keys) }

// Tongue is the catalogue in a language; English for one it does not speak.
func (c *Catalogue) Tongue(lang string) *Tongue {
	if t, ok := c.tongues[lang]; ok {
		return t
	}
	return c.tongues[English]
}

// Match is the tongue that suits best: the chosen language (BCP 47, may be
// empty), or else the browser's Accept-Language (RFC 9110, section 12.5.4).
func (c *Catalogue) Match(chosen, accept string) *Tongue {
	if tag, err := language.Parse(chosen); chosen != "" && err == nil {
		if _, i, sure := c.matcher.Match(tag); sure != language.No {
			return c.tongues[Languages()[i]]
		}
	}
	tags, _, err := language.ParseAcceptLanguage(accept)
	if err != nil || len(tags) == 0 {
		return c.tongues[English]
	}
	_, i, _ := c.matcher.Match(tags...)
	return c.tongues[Languages()[i]]
}
