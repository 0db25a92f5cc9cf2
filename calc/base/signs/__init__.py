"""Letters of all scripts: which font draws them, and in which order words are drawn; nothing of what they say."""
