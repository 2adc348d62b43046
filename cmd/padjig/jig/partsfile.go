package jig

import (
	"cmp"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results/care"
	"padjig/sequence/fields"
)

// largestPartsFile is the largest file of parts, in bytes.
const largestPartsFile = 64 << 10

var partsSentences = map[fields.Code]string{
	"file.large":  "this is larger than %d KiB, which no jig's parts need",
	"jig.other":   "this describes jig %s, not %s",
	"parts.none":  "no parts are described",
	"part":        "%v",
	"channels":    "%v",
	"uses":        "%q is no number of uses; write a whole number such as 100000",
	"uses.pair":   "part %q needs both warn and block, and block not below warn",
	"part.nobody": "part %q has neither name nor lot nor limits",
}

// ofFile is what a file describes of a jig, as events.
func (o *partsOptions) ofFile(cmd *cobra.Command, jig string) ([]care.WearEvent, error) {
	text, err := command.ReadAtMost(o.file, largestPartsFile+1)
	if err != nil {
		return nil, command.Fail(command.Wrong, fmt.Errorf("read the parts of a jig: %w", err), "")
	}
	s := fields.New(o.file, text[:min(len(text), largestPartsFile)], fields.Format{Sentences: partsSentences}, false)
	var all []care.WearEvent
	if len(text) > largestPartsFile {
		s.Wrong(fields.Place{Line: 1, Column: 1}, "file.large", largestPartsFile>>10)
	} else if root, ok := s.Root(); ok {
		all = o.described(root, jig)
	}
	if len(s.Found) == 0 {
		return all, nil
	}
	for _, m := range s.Found.Sorted() {
		fmt.Fprintln(cmd.ErrOrStderr(), m.Error())
	}
	return nil, command.Fail(command.Wrong, fmt.Errorf("%s: %s, nothing was recorded", o.file, command.Count(len(s.Found), "mistake")), "")
}

func (o *partsOptions) described(root fields.Field, jig string) (all []care.WearEvent) {
	top := root.Object("the parts file", "jig", "parts")
	if w, ok := top.Line("jig"); ok && w.Text != jig {
		top.Wrong(w.Place, "jig.other", w.Text, jig)
	}
	top.Missing("jig", "jig: "+jig)
	parts, _ := top.Section("parts")
	if len(parts.Fields) == 0 {
		top.Wrong(parts.At, "parts.none")
	}
	for _, f := range parts.Fields {
		all = append(all, o.ofField(f, jig))
	}
	return all
}

func (o *partsOptions) ofField(f fields.Field, jig string) care.WearEvent {
	p := f.Object("part "+f.Name.Text, "name", "lot", "tip", "serves", "warn", "block", "note")
	e := care.WearEvent{Jig: jig, Simulated: o.simulated, By: o.by}
	var err error
	if e.Part, err = care.ParsePart(f.Name.Text); err != nil {
		f.Wrong(f.Name.Place, "part", err)
	}
	text := func(name string) string { w, _ := p.Line(name); return w.Text }
	e.Name, e.Lot, e.Tip, e.Note = text("name"), text("lot"), text("tip"), cmp.Or(text("note"), o.note)
	if w, ok := p.Line("serves"); ok {
		if e.Serves, err = care.ParseChannels(w.Text); err != nil {
			p.Wrong(w.Place, "channels", err)
		}
	}
	uses := func(name string) (n int) {
		w, ok := p.Line(name)
		if n, err = strconv.Atoi(w.Text); ok && (err != nil || n < 1) {
			p.Wrong(w.Place, "uses", w.Text)
		}
		return n
	}
	e.Warn, e.Block = uses("warn"), uses("block")
	switch {
	case p.Has("warn") != p.Has("block") || e.Block < e.Warn:
		f.Wrong(f.Name.Place, "uses.pair", f.Name.Text)
	case e.Name+e.Lot == "" && e.Block == 0:
		f.Wrong(f.Name.Place, "part.nobody", f.Name.Text)
	}
	return e
}
