package align

// Everyday reports a word that people say in any conversation, in lower case:
// function words, fillers, numerals and common verbs. It tells nothing about what
// is spoken of.
func Everyday(word string) bool {
	return functionWord(word) || fillers[word] || everyday[word] || soft[word] || chat[word] || particles[word] || negators[word] || numberWord(word)
}
