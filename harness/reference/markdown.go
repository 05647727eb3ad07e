package reference

import (
	"fmt"
	"strings"
)

// generated is the first line of every page.
const generated = "<!-- Made by `drystage explain --pages`. Change what it is made from, not this page. -->\n"

// Markdown gives a page.
func (p *Page) Markdown() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n# %s\n\n%s\n", generated, p.Name, markdownText(p.Doc))
	if named := p.named(); named {
		p.table(&b)
		return b.String()
	}
	for i := range p.Blocks {
		p.Blocks[i].markdown(&b)
	}
	return b.String()
}

// Index gives the page that names all others.
func Index(pages []Page) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n# Reference\n\nThe same in a terminal: `drystage explain WORD`.\n\n| page | about |\n| --- | --- |\n", generated)
	for i := range pages {
		fmt.Fprintf(&b, "| [%s](%s.md) | %s |\n", pages[i].Name, pages[i].Name, cell(firstLine(pages[i].Doc)))
	}
	return b.String()
}

// named says that the blocks of a page are single things without keys.
func (p *Page) named() bool {
	for i := range p.Blocks {
		if len(p.Blocks[i].Entries) > 0 || len(p.Blocks[i].Notes) > 0 {
			return false
		}
	}
	return true
}

func (p *Page) table(b *strings.Builder) {
	b.WriteString("\n| name | meaning | example |\n| --- | --- | --- |\n")
	for i := range p.Blocks {
		o := &p.Blocks[i]
		fmt.Fprintf(b, "| `%s` | %s | %s |\n", strings.TrimPrefix(o.Path, p.Name+"."), cell(o.Doc), example(o.Example, o.From))
	}
}

func (o *Block) markdown(b *strings.Builder) {
	fmt.Fprintf(b, "\n## %s\n\n%s\n", o.Path, markdownText(o.Doc))
	if len(o.Entries) > 0 {
		b.WriteString("\n| key | value | unit | default | meaning | example |\n| --- | --- | --- | --- | --- | --- |\n")
	}
	for i := range o.Entries {
		e := &o.Entries[i]
		doc := e.Doc
		if e.Typical != "" {
			doc += ". Typical: " + e.Typical
		}
		wants := cell(e.Wants)
		if e.Block != "" {
			wants += "; its keys are those of " + e.Block
		}
		fmt.Fprintf(b, "| `%s` | %s | %s | %s | %s | %s |\n", e.Key, wants, cell(orNone(e.Unit)), cell(e.Default), cell(doc), example(e.Example, e.From))
	}
	for _, n := range o.Notes {
		fmt.Fprintf(b, "\n```text\n%s\n```\n", strings.TrimRight(n, "\n"))
	}
	if o.Example != "" {
		fmt.Fprintf(b, "\n```yaml\n%s\n```\n", strings.TrimSpace(o.Example))
		if o.From != "" {
			fmt.Fprintf(b, "\nFrom %s.\n", o.From)
		}
	}
}

func orNone(s string) string {
	if s == "" {
		return None
	}
	return s
}

func example(text, from string) string {
	if text == "" {
		return ""
	}
	if from == "" {
		return "`" + cell(text) + "`"
	}
	return "`" + cell(text) + "` in " + cell(from)
}

// cell makes text fit into a cell of a table.
func cell(text string) string {
	return markdownText(strings.NewReplacer("\n", " ", "|", `\|`).Replace(text))
}

// markdownText keeps what Markdown would take for marks of its own.
func markdownText(text string) string {
	return strings.NewReplacer("<", "&lt;", "*", `\*`).Replace(text)
}
