/* A browser refuses a worker to a page that was opened from disk; there the search runs in a hidden frame instead. */
if (location.protocol === "file:")
  window.Worker = class extends EventTarget {
    constructor(address) {
      super();
      const frame = document.createElement("iframe");
      frame.hidden = true;
      document.documentElement.append(frame);
      this.inside = frame.contentWindow;
      this.inside.postMessage = (data) => this.dispatchEvent(new MessageEvent("message", { data }));
      this.loaded = new Promise((done) => {
        const script = this.inside.document.createElement("script");
        script.onload = done;
        script.src = new URL(address, location.href).href;
        this.inside.document.documentElement.append(script);
      });
    }
    postMessage(data) {
      this.loaded.then(() => this.inside.dispatchEvent(new MessageEvent("message", { data })));
    }
    terminate() {}
  };
