// Lines of JSON from work that goes on while the browser watches: progress, then one answer.
export const LINES = "application/x-ndjson";

export async function* linesOf(response) {
  const reader = response.body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return;
    const parts = (rest + value).split("\n");
    rest = parts.pop();
    for (const part of parts) if (part) yield JSON.parse(part);
  }
}
