/**
 * Every kind of entry that this phone makes: its words, and the page whose form puts a refused one
 * right (?fix=ID) and corrects a saved one (?correct=ID), unless it is only asked `once`. One line a kind.
 */
export const KINDS = {
  head_reading: { words: "Head reading", page: "/field/reading" },
  visit: { words: "Visit", page: "/field/visit" },
  check_gauging: { words: "Check gauging", page: "/field/gauging" },
  level_run: { words: "Level run", page: "/field/levels" },
  benchmark: { words: "Benchmark", page: "/field/levels" },
  install_stop: { words: "Install stop", page: "/field/install" },
  dimension_check: { words: "Dimension check", page: "/field/install" },
  opening: { words: "Opening", page: "/field/opening" },
  photo: { words: "Photo", page: "/field/photo" },
  logger_file: { words: "Logger file", page: "/field/logger" },
  plan: { words: "Plan", page: "/field/plan", once: true },
};

/** The words of a kind, also of one from a later release. */
export const kindWords = (kind) =>
  KINDS[kind]?.words ?? kind.replaceAll("_", " ").replace(/^./, (letter) => letter.toUpperCase());
